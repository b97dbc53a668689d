// SPDX-License-Identifier: Apache-2.0
// S20: after a stop the level is watched: flow that goes on (siphon, back-flow, welded contact) is
// named in the alarm.
#include <string>

#include <gtest/gtest.h>

#include "config/advice.h"
#include "tests/safety/bench_station.h"

namespace brinegate {
namespace {

class S20 : public testing::Test {
 protected:
  BenchStation bench;

  void stop_after_a_change() {
    bench.prove();
    ASSERT_TRUE(bench.ask_change(10.0).ok());
    for (int i = 0; i < 600 && bench.station().change(); ++i)
      bench.pass(1s);
  }
  // The level moves so fast for so long.
  void level_moves(double litres_per_minute, int for_seconds) {
    for (int i = 0; i < for_seconds; ++i) {
      bench.shown[BenchStation::height] += litres_per_minute / 60.0;
      bench.pass(1s);
    }
  }
  [[nodiscard]] bool stands(AlarmId alarm) { return !bench.station().alarms().is_normal(alarm); }
};

TEST_F(S20, ASiphonThatGoesOnAfterAStopIsNamedBeforeItIsALossAsAnyOther) {
  stop_after_a_change();
  level_moves(-3.0, 50);  // 2.5 L
  EXPECT_TRUE(stands(AlarmId::FlowsOnAfterStop));
  EXPECT_FALSE(stands(AlarmId::LevelFallingWhileShut));
  EXPECT_NE(config::text_of(AlarmId::FlowsOnAfterStop, bench.station()).cause.find("siphon"),
            std::string::npos);
  EXPECT_FALSE(bench.second_cutoff_on());
  EXPECT_EQ(bench.ask_change(10.0).code, AnswerCode::ChecksNotMet);
  ASSERT_TRUE(bench.ask(AcknowledgeCommand{AlarmId::FlowsOnAfterStop}).ok());
  bench.pass(30s);
  EXPECT_TRUE(bench.ask_change(10.0).ok());
}

TEST_F(S20, WaterThatFlowsBackIsNamed) {
  stop_after_a_change();
  level_moves(3.0, 50);
  EXPECT_TRUE(stands(AlarmId::FlowsBackAfterStop));
  EXPECT_FALSE(stands(AlarmId::FlowsOnAfterStop));
}

TEST_F(S20, AWeldedContactIsNamedByTheReadBack) {
  stop_after_a_change();
  bench.relay_welded = true;
  bench.pass(8s);
  EXPECT_TRUE(stands(AlarmId::PumpRunningWhileShut));
}

TEST_F(S20, HosesThatRunEmptyAndWavesAreNoAlarm) {
  stop_after_a_change();
  level_moves(-12.0, 5);
  for (int i = 0; i < 600; ++i) {
    bench.shown[BenchStation::height] += i % 2 == 0 ? 0.3 : -0.3;
    bench.pass(1s);
  }
  EXPECT_TRUE(bench.station().alarms().standing().empty());
}

TEST_F(S20, AReservoirThatIsFilledAnewLaterIsNoBackFlow) {
  stop_after_a_change();
  bench.pass(3min);
  level_moves(10.0, 60);
  EXPECT_FALSE(stands(AlarmId::FlowsBackAfterStop));
}

TEST(S20Flow, AFlowProbeNamesWaterThatFlowsWhileShut) {
  StationSpec spec = bench_spec();
  spec.probes[BenchStation::leak].measures = Measures::Flow;
  spec.probes[BenchStation::leak].limits = default_sample_limits(Measures::Flow, 200.0);
  BenchStation bench(spec);
  bench.prove();
  bench.shown[BenchStation::leak] = 0.05;  // the meter's own zero
  bench.pass(1min);
  EXPECT_TRUE(bench.station().alarms().is_normal(AlarmId::FlowsOnAfterStop));
  bench.shown[BenchStation::leak] = 1.0;
  bench.pass(2 * spec.pump->readback_within + 2s);
  EXPECT_FALSE(bench.station().alarms().is_normal(AlarmId::FlowsOnAfterStop));
  EXPECT_EQ(bench.verdict(CheckId::WaterStays), Verdict::Violated);
}

TEST(S20Drain, ASiphonOutOfTheTankAfterTheExchangeIsNamed) {
  BenchStation bench(exchange_spec());
  bench.prove();
  ASSERT_TRUE(bench.ask_change(10.0).ok());
  for (int i = 0; i < 600 && bench.station().change(); ++i)
    bench.pass(1s);
  ASSERT_TRUE(bench.station().alarms().standing().empty());
  bench.siphon_litres_per_minute = 5.0;
  bench.pass(1min);
  EXPECT_FALSE(bench.station().alarms().is_normal(AlarmId::DrainFlowsOn));
  EXPECT_EQ(bench.ask_change(10.0).code, AnswerCode::ChecksNotMet);
}

}  // namespace
}  // namespace brinegate
