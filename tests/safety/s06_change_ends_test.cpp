// SPDX-License-Identifier: Apache-2.0
// S6: a change ends at its volume, its time, low level, tank high level, leak, or lost flow,
// whichever is first; the limits are the station's, not the request's.
#include <gtest/gtest.h>

#include "tests/safety/bench_station.h"

namespace brinegate {
namespace {

class S6 : public testing::Test {
 protected:
  void start(BenchStation& bench, double litres) {
    bench.prove();
    ASSERT_TRUE(bench.ask_change(litres).ok());
    bench.pass(10s);
    ASSERT_TRUE(bench.pump_on());
  }
  static ChangeEnd end_of(const BenchStation& bench) {
    const auto ends = bench.events<ChangeEnded>();
    EXPECT_EQ(ends.size(), 1U);
    return ends.empty() ? ChangeEnd::Interrupted : ends.back().end;
  }
};

TEST_F(S6, AtItsVolume) {
  BenchStation bench;
  start(bench, 40.0);
  bench.pass(5min);
  EXPECT_FALSE(bench.pump_on());
  EXPECT_EQ(end_of(bench), ChangeEnd::VolumeReached);
  EXPECT_NEAR(180.0 - bench.shown[BenchStation::height], 40.0, 0.6);
  EXPECT_NEAR(bench.station().batch().drawn.value(), 40.0, 0.6);
  EXPECT_EQ(bench.phase(), BatchPhase::Proven);
}

TEST_F(S6, AtItsTimeEvenWhereTheLevelDoesNotShowTheVolume) {
  StationSpec spec = bench_spec();
  spec.pump->max_run = 2min;
  spec.pump->no_flow_after = 10min;
  BenchStation bench(spec);
  bench.pump_litres_per_minute = 1.0;
  start(bench, 40.0);
  bench.pass(2min);
  EXPECT_FALSE(bench.pump_on());
  EXPECT_EQ(end_of(bench), ChangeEnd::TimeLimit);
  EXPECT_FALSE(bench.station().alarms().is_normal(AlarmId::ChangeEndedEarly));
}

TEST_F(S6, AtLowLevel) {
  StationSpec spec = bench_spec();
  spec.low_level = Litres(150.0);
  BenchStation bench(spec);
  start(bench, 29.0);
  bench.shown[BenchStation::height] = 149.0;
  bench.pass(3s);
  EXPECT_FALSE(bench.pump_on());
}

TEST_F(S6, ABatchThatIsDrawnToLowLevelIsUsedUp) {
  StationSpec spec = bench_spec();
  spec.low_level = Litres(150.0);
  BenchStation bench(spec);
  start(bench, 29.9);
  bench.pass(10min);
  ASSERT_EQ(bench.events<BatchEnded>().size(), 1U);
  EXPECT_EQ(bench.events<BatchEnded>()[0].end, BatchEnd::Used);
  EXPECT_EQ(bench.phase(), BatchPhase::Empty);
  EXPECT_FALSE(bench.station().batch().proof.has_value());
}

TEST_F(S6, AtTheTanksHighLevel) {
  StationSpec spec = bench_spec();
  ProbeSpec high;
  high.name = "tank";
  high.measures = Measures::TankHigh;
  high.limits = default_sample_limits(high.measures, 200.0);
  spec.probes.push_back(high);
  BenchStation bench(spec);
  bench.shown[6] = 0.0;
  start(bench, 40.0);
  bench.shown[6] = 1.0;
  bench.pass(2s);
  EXPECT_FALSE(bench.pump_on());
  EXPECT_EQ(end_of(bench), ChangeEnd::GateShut);
  EXPECT_EQ(bench.events<GateShut>().back().first_out->id, CheckId::TankNotFull);
}

TEST_F(S6, AtALeak) {
  BenchStation bench;
  start(bench, 40.0);
  bench.shown[BenchStation::leak] = 1.0;
  bench.pass(2s);
  EXPECT_FALSE(bench.pump_on());
  EXPECT_EQ(bench.events<GateShut>().back().first_out->id, CheckId::NoLeak);
}

TEST_F(S6, WhenNoWaterMoves) {
  BenchStation bench;
  bench.pump_litres_per_minute = 0.0;
  start(bench, 40.0);
  bench.pass(bench.spec().pump->no_flow_after);
  EXPECT_FALSE(bench.pump_on());
  EXPECT_EQ(end_of(bench), ChangeEnd::NoFlow);
}

TEST_F(S6, ARequestCannotRaiseALimit) {
  BenchStation bench;
  bench.prove();
  EXPECT_EQ(bench.ask_change(60.1).code, AnswerCode::VolumeAboveMaximum);
  EXPECT_EQ(bench.ask_change(0.0).code, AnswerCode::VolumeNotPositive);
  EXPECT_EQ(bench.ask_change(-5.0).code, AnswerCode::VolumeNotPositive);
  bench.shown[BenchStation::height] = 50.0;
  NoteCommand note;
  note.removed = Litres(130.0);
  bench.ask(note);
  bench.pass(30s);
  EXPECT_EQ(bench.ask_change(31.0).code, AnswerCode::VolumeNotThere);
}

TEST_F(S6, APersonCanStopIt) {
  BenchStation bench;
  start(bench, 40.0);
  EXPECT_TRUE(bench.ask(StopCommand{}).ok());
  EXPECT_FALSE(bench.pump_on());
  EXPECT_EQ(end_of(bench), ChangeEnd::Stopped);
}

TEST_F(S6, AStopAskedInTheSameMomentAsAChangeIsNotLost) {
  BenchStation bench;
  bench.prove();
  bench.queue(ChangeCommand{Litres(40.0)});
  bench.queue(StopCommand{});
  bench.pass(1min);
  EXPECT_FALSE(bench.pump_on());
}

TEST_F(S6, AChangeAskedWithAStopDoesNotInheritTheOpenGate) {
  BenchStation bench;
  start(bench, 40.0);
  bench.queue(StopCommand{});
  bench.queue(ChangeCommand{Litres(50.0)});
  bench.pass(3s);
  EXPECT_FALSE(bench.pump_on());
  EXPECT_EQ(end_of(bench), ChangeEnd::Stopped);
}

TEST_F(S6, WhileProvenARunThatPassesItsVolumeShutsTheGateUntilAcknowledged) {
  StationSpec spec = bench_spec();
  spec.pump->permit = PermitMode::WhileProven;
  spec.pump->max_volume = Litres(20.0);
  BenchStation bench(spec);
  bench.prove();
  bench.pass(3min);
  EXPECT_EQ(bench.events<GateOpened>().size(), 1U) << "while proven the gate opens by itself";
  EXPECT_NEAR(180.0 - bench.shown[BenchStation::height], 20.0, 0.7);
  EXPECT_FALSE(bench.pump_on());
  EXPECT_EQ(bench.verdict(CheckId::RunWithinLimits), Verdict::Violated);
  bench.pass(10min);
  EXPECT_FALSE(bench.pump_on());
  ASSERT_TRUE(bench.ask(AcknowledgeCommand{AlarmId::RunLimitPassed}).ok());
  bench.pass(20s);
  EXPECT_TRUE(bench.pump_on());
}

}  // namespace
}  // namespace brinegate
