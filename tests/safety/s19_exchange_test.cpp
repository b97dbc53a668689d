// SPDX-License-Identifier: Apache-2.0
// S19: before anything is drained the whole return volume is known to be there; drained and
// returned are reconciled; a stop half-way is an alarm of the highest priority with the steps to
// finish by hand.
#include <algorithm>
#include <cmath>
#include <string>

#include <gtest/gtest.h>

#include "config/advice.h"
#include "tests/safety/bench_engine.h"
#include "tests/safety/bench_station.h"

namespace brinegate {
namespace {

constexpr double full_tank = 500.0;
// What a pump of 12 L/min moves in the seconds until it is seen and stopped.
constexpr double slack = 1.0;

class S19 : public testing::Test {
 protected:
  BenchStation bench{exchange_spec()};

  void begin(double litres) {
    bench.prove();
    bench.forget_events();
    ASSERT_TRUE(bench.ask_change(litres).ok());
  }
  void drain(double litres) {
    begin(litres);
    pass_until([this] { return bench.drain_on(); });
    bench.pass(1min);
    ASSERT_TRUE(bench.drain_on());
  }
  template <class Condition>
  void pass_until(Condition condition) {
    for (int i = 0; i < 3600 && !condition(); ++i)
      bench.pass(1s);
    ASSERT_TRUE(condition());
  }
  [[nodiscard]] double lacks() { return full_tank - bench.shown[BenchStation::tank]; }
  [[nodiscard]] bool stands(AlarmId alarm) { return !bench.station().alarms().is_normal(alarm); }
  [[nodiscard]] ChangeEnded ended() const {
    const auto ends = bench.events<ChangeEnded>();
    EXPECT_EQ(ends.size(), 1U);
    return ends.empty() ? ChangeEnded{} : ends.back();
  }
};

TEST_F(S19, AsMuchIsReturnedAsWasDrainedInPortionsOfWhichOneAtMostIsMissing) {
  begin(50.0);
  double most = 0.0;
  int turns = 0;
  bool drained_before = false;
  for (int i = 0; i < 1200 && bench.station().change(); ++i) {
    bench.pass(1s);
    EXPECT_FALSE(bench.drain_on() && bench.pump_on());
    most = std::max(most, lacks());
    turns += bench.drain_on() && !drained_before ? 1 : 0;
    drained_before = bench.drain_on();
  }
  EXPECT_EQ(turns, 3);  // 20 L, 20 L, 10 L
  EXPECT_NEAR(most, 20.0, slack);
  EXPECT_NEAR(lacks(), 0.0, slack);
  EXPECT_NEAR(180.0 - bench.shown[BenchStation::height], 50.0, slack);
  EXPECT_EQ(ended().end, ChangeEnd::VolumeReached);
  EXPECT_NEAR(ended().exchange->drained.value(), 50.0, slack);
  EXPECT_NEAR(ended().drawn.value(), 50.0, slack);
  EXPECT_TRUE(bench.station().alarms().standing().empty());
  EXPECT_EQ(bench.phase(), BatchPhase::Proven);
}

TEST_F(S19, NothingIsDrainedUnlessAllThatIsToBeReturnedIsSurelyThere) {
  // 59.7 L above the low level of 20 L, with 0.5 L and 1 % of uncertainty (k = 1).
  bench.shown[BenchStation::height] = 79.7;
  bench.prove();
  const CommandAnswer answer = bench.ask_change(59.0);
  EXPECT_EQ(answer.code, AnswerCode::VolumeNotThere);
  EXPECT_NEAR(answer.limit->value(), 59.7 - 1.96 * std::hypot(0.5, 0.797), 0.01);
  EXPECT_TRUE(bench.ask_change(57.0).ok());
}

TEST_F(S19, NothingIsDrainedBeforeThePermitIsOnRecord) {
  bench.record_permits = false;
  begin(20.0);
  bench.pass(1min);
  EXPECT_FALSE(bench.drain_on());
  EXPECT_EQ(bench.shown[BenchStation::tank], full_tank);
}

TEST_F(S19, TheDrainStopsInTheStepInWhichTheGateShutsAndTheTankIsSaidToLackWater) {
  drain(50.0);
  bench.shown[BenchStation::leak] = 1.0;
  bench.pass(1s);
  EXPECT_FALSE(bench.drain_on());
  EXPECT_FALSE(bench.pump_on());
  ASSERT_TRUE(stands(AlarmId::ExchangeUnfinished));
  EXPECT_EQ(priority_of(AlarmId::ExchangeUnfinished), AlarmPriority::Highest);
  ASSERT_TRUE(bench.station().unfinished().has_value());
  EXPECT_NEAR(bench.station().unfinished()->amounts.missing().value(), lacks(), slack);
  const auto text = config::text_of(AlarmId::ExchangeUnfinished, bench.station());
  EXPECT_NE(text.consequence.find("lacks"), std::string::npos) << text.consequence;
  EXPECT_NE(text.action.find("it is still proven"), std::string::npos) << text.action;
}

TEST_F(S19, APersonWhoStopsItHalfWayIsToldWhatIsMissing) {
  drain(50.0);
  ASSERT_TRUE(bench.ask(StopCommand{}).ok());
  EXPECT_EQ(ended().end, ChangeEnd::Stopped);
  EXPECT_TRUE(stands(AlarmId::ExchangeUnfinished));
}

TEST_F(S19, WhatThePersonFillsInByHandIsSeenAndAcknowledgingEndsIt) {
  drain(50.0);
  bench.ask(StopCommand{});
  EXPECT_TRUE(bench.hold_off_on());
  bench.pass(10min);
  EXPECT_TRUE(bench.hold_off_on()) << "a top-off would fill it with fresh water";
  EXPECT_EQ(bench.ask_change(10.0).code, AnswerCode::ChecksNotMet);
  bench.shown[BenchStation::tank] += 5.0;
  bench.pass(2s);
  EXPECT_NEAR(bench.station().unfinished()->amounts.missing().value(), lacks(), 0.1);
  ASSERT_TRUE(bench.ask(AcknowledgeCommand{AlarmId::ExchangeUnfinished}).ok());
  bench.pass(5min);
  EXPECT_FALSE(bench.station().unfinished().has_value());
  EXPECT_FALSE(bench.hold_off_on());
  EXPECT_TRUE(bench.ask_change(10.0).ok());
}

TEST_F(S19, ABatchThatIsNotProvenAnyMoreIsNotAdvisedToBeReturned) {
  drain(50.0);
  bench.ask(StopCommand{});
  NoteCommand note;
  note.water = Litres(5.0);
  ASSERT_TRUE(bench.ask(note).ok());
  const auto text = config::text_of(AlarmId::ExchangeUnfinished, bench.station());
  EXPECT_NE(text.action.find("do not use it"), std::string::npos) << text.action;
}

TEST_F(S19, ADrainThatMovesNothingEndsIt) {
  bench.drain_litres_per_minute = 0.0;
  begin(50.0);
  bench.pass(2min);
  EXPECT_EQ(ended().end, ChangeEnd::NoDrainFlow);
  EXPECT_FALSE(bench.drain_on());
  EXPECT_FALSE(stands(AlarmId::ExchangeUnfinished)) << "nothing was taken out";
  EXPECT_TRUE(stands(AlarmId::ChangeEndedEarly));
}

TEST(S19Drain, HasATimeLimitOverAllPortions) {
  StationSpec spec = exchange_spec();
  spec.drain->pump.max_run = 3min;
  BenchStation bench(spec);
  bench.prove();
  ASSERT_TRUE(bench.ask_change(50.0).ok());
  bench.pass(12min);
  const auto ended = bench.events<ChangeEnded>();
  ASSERT_EQ(ended.size(), 1U);
  EXPECT_EQ(ended[0].end, ChangeEnd::DrainTimeLimit);
  EXPECT_LE(ended[0].exchange->drained.value(), 30.0 + slack);
}

TEST_F(S19, APumpThatMovesNothingLeavesOnePortionMissingAtMostAndSaysSo) {
  bench.pump_litres_per_minute = 0.0;
  begin(50.0);
  bench.pass(6min);
  EXPECT_EQ(ended().end, ChangeEnd::NoFlow);
  EXPECT_NEAR(lacks(), 20.0, slack);
  EXPECT_TRUE(stands(AlarmId::ExchangeUnfinished));
}

TEST_F(S19, ASiphonThroughTheStoppedDrainIsNamedAndNothingMoreIsDrained) {
  drain(50.0);
  bench.siphon_litres_per_minute = 20.0;
  bench.pass(2min);
  EXPECT_EQ(ended().end, ChangeEnd::DrainFlowsOn);
  EXPECT_TRUE(stands(AlarmId::DrainFlowsOn));
  EXPECT_TRUE(stands(AlarmId::ExchangeUnfinished));
}

// A hose that slipped off, onto the floor or back into the reservoir.
TEST_F(S19, WaterThatDoesNotReachTheTankEndsItAfterOnePortion) {
  bench.arrives = 0.5;
  begin(50.0);
  bench.pass(10min);
  EXPECT_EQ(ended().end, ChangeEnd::Unbalanced);
  EXPECT_NEAR(ended().exchange->missing().value(), 10.0, slack);
  EXPECT_TRUE(stands(AlarmId::ExchangeUnfinished));
}

TEST_F(S19, AtTheEndDrainedAndReturnedAreReconciled) {
  bench.arrives = 0.8;
  begin(15.0);  // one portion
  bench.pass(10min);
  EXPECT_EQ(ended().end, ChangeEnd::VolumeReached);
  EXPECT_TRUE(stands(AlarmId::ExchangeUnbalanced));
  EXPECT_EQ(bench.verdict(CheckId::RunWithinLimits), Verdict::Violated);
}

TEST_F(S19, ADrainThatRunsWhileOffIsAnAlarmAndBlocks) {
  bench.prove();
  bench.drain_welded = true;
  bench.pass(8s);
  EXPECT_EQ(bench.station().alarms().state(AlarmId::DrainRunningWhileOff),
            AlarmState::Unacknowledged);
  EXPECT_EQ(bench.ask_change(10.0).code, AnswerCode::ChecksNotMet);
}

TEST_F(S19, ADrainThatDoesNotRunWhileOnShutsTheGate) {
  bench.drain_follows = false;
  begin(20.0);
  bench.pass(40s);
  EXPECT_TRUE(stands(AlarmId::DrainNotRunningWhileOn));
  EXPECT_EQ(bench.events<GateShut>().back().first_out->id, CheckId::PumpFollows);
}

TEST_F(S19, ACrashHalfWayRaisesTheAlarmWithWhatTheLevelsSay) {
  drain(50.0);
  const StationMemory memory = bench.station().memory(bench.now());
  bench.restart(memory);
  bench.pass(5s);
  ASSERT_TRUE(stands(AlarmId::ExchangeUnfinished));
  EXPECT_TRUE(bench.hold_off_on());
  EXPECT_FALSE(bench.drain_on());
  EXPECT_NEAR(bench.station().unfinished()->amounts.missing().value(), lacks(), slack);
  EXPECT_EQ(ended().end, ChangeEnd::Interrupted);
}

TEST_F(S19, ACrashBetweenTwoPortionsLeavesNothingMissing) {
  begin(50.0);
  pass_until([this] {
    return bench.station().change()->exchange &&
           bench.station().change()->exchange->phase() == ExchangePhase::AfterReturn;
  });
  bench.pass(3s);
  bench.restart(bench.station().memory(bench.now()));
  bench.pass(5s);
  EXPECT_FALSE(stands(AlarmId::ExchangeUnfinished));
  EXPECT_TRUE(stands(AlarmId::ChangeInterrupted));
}

}  // namespace
}  // namespace brinegate

namespace brinegate::daemon {
namespace {

TEST(S19Daemon, TheDrainIsALeaseAndOffWithTheGate) {
  BenchEngine bench({}, BenchEngine::start(), exchange_site());
  bench.prove();
  ASSERT_TRUE(bench.ask_change("40 L"));
  bench.pass(std::chrono::seconds(60));
  const auto drives = bench.drives(drivers::OutputRole::Drain);
  ASSERT_TRUE(drives.back().effect.on_until.has_value());
  EXPECT_EQ(*drives.back().effect.on_until - drives.back().at, bench.lease());
  bench.shown[BenchEngine::leak] = 1.0;
  bench.pass(std::chrono::seconds(2));
  EXPECT_FALSE(bench.drives(drivers::OutputRole::Drain).back().effect.on_until.has_value());
  EXPECT_EQ(bench.check("no-leak")["verdict"], "violated");
}

TEST(S19Daemon, EachStepIsOnRecordAndAlarmAndAmountsOutliveTwoCrashes) {
  BenchEngine before({}, BenchEngine::start(), exchange_site());
  before.prove();
  ASSERT_TRUE(before.ask_change("40 L"));
  before.pass(std::chrono::seconds(150));  // 20 L drained, some of them returned
  EXPECT_EQ(before.on_disk("exchange").size(), 3U);
  EXPECT_EQ(before.station()["change"]["exchange"]["step"], "returning");
  RestoredStates stored = before.stored();
  for (int crash = 0; crash < 2; ++crash) {
    BenchEngine after(stored, before.now(), exchange_site());
    after.shown = before.shown;
    after.pass(std::chrono::seconds(10));
    const auto told = after.station();
    const double lacks = 500.0 - before.shown[BenchEngine::tank];
    ASSERT_GT(lacks, 3.0);
    EXPECT_NEAR(told["unfinished"]["missing_l"].get<double>(), lacks, 1.0);
    ASSERT_EQ(told["alarms"].size(), 1U);
    EXPECT_EQ(told["alarms"][0]["id"], "exchange-unfinished");
    EXPECT_EQ(told["alarms"][0]["priority"], "highest");
    stored = after.stored();
  }
}

TEST(S19Daemon, ADrainThatDoesNotAnswerHoldsTheGate) {
  BenchEngine bench({}, BenchEngine::start(), exchange_site());
  bench.prove();
  bench.send(OutputReported{{{0, drivers::OutputRole::Drain}, false, SampleFault::Timeout}});
  bench.pass(bench.turn());
  EXPECT_EQ(bench.check("pump-follows")["verdict"], "waiting");
}

}  // namespace
}  // namespace brinegate::daemon
