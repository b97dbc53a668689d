// SPDX-License-Identifier: Apache-2.0
// S14: a second daemon, or a person, that drives the same output shows in the read-back and in the
// level, and to the driver in the coil it left. Here the foreign hand holds the relay on or off;
// what the lines do about it, and the locks that keep a second daemon out, are shown with the
// drivers and the shell.
#include <gtest/gtest.h>

#include "tests/safety/bench_engine.h"
#include "tests/safety/bench_station.h"

namespace brinegate {
namespace {

TEST(S14, AHandThatSwitchesThePumpOnIsAlarmedAndCutOff) {
  BenchStation bench;
  bench.prove();
  bench.relay_welded = true;
  bench.pass(bench.spec().pump->readback_within + 2s);
  EXPECT_EQ(bench.station().alarms().state(AlarmId::PumpRunningWhileShut),
            AlarmState::Unacknowledged);
  EXPECT_FALSE(bench.second_cutoff_on());
  EXPECT_FALSE(bench.open());
}

TEST(S14, AHandThatSwitchesThePumpOffEndsTheChangeWithAnAlarm) {
  BenchStation bench;
  bench.prove();
  ASSERT_TRUE(bench.ask_change(40.0).ok());
  bench.pass(10s);
  ASSERT_TRUE(bench.open());
  bench.relay_follows = false;
  bench.pass(bench.spec().pump->readback_within + 2s);
  EXPECT_EQ(bench.station().alarms().state(AlarmId::PumpNotRunningWhileOpen),
            AlarmState::ReturnedUnacknowledged);  // for the gate is shut by now
  EXPECT_FALSE(bench.open());
  EXPECT_FALSE(bench.second_cutoff_on());
}

// Each on for less than the time in which the read-back must follow.
TEST(S14, ShortPulsesOfAForeignHandShowInTheLevel) {
  BenchStation bench;
  bench.prove();
  for (int pulse = 0; pulse < 12; ++pulse) {  // 0.6 L each
    bench.relay_welded = true;
    bench.pass(3s);
    bench.relay_welded = false;
    bench.pass(20s);
  }
  EXPECT_FALSE(bench.station().alarms().is_normal(AlarmId::LevelFallingWhileShut));
  EXPECT_EQ(bench.ask_change(10.0).code, AnswerCode::ChecksNotMet);
}

// The driver looks at the coil it left, so no read-back is needed.
TEST(S14, AnOutputThatSomebodyElseSwitchedIsAlarmedAndBlocksUntilAPersonHasSeen) {
  StationSpec spec = bench_spec();
  spec.pump->has_readback = false;
  BenchStation bench(spec);
  bench.prove();
  ASSERT_TRUE(bench.ask_change(40.0).ok());
  bench.pass(10s);
  ASSERT_TRUE(bench.open());
  bench.output_taken_over = true;
  bench.pass(1s);
  EXPECT_FALSE(bench.open());
  EXPECT_EQ(bench.events<GateShut>().back().first_out->id, CheckId::PumpFollows);
  bench.pass(1min);
  EXPECT_EQ(bench.ask_change(10.0).code, AnswerCode::ChecksNotMet);
  ASSERT_TRUE(bench.ask(AcknowledgeCommand{AlarmId::OutputTakenOver}).ok());
  bench.pass(15s);
  EXPECT_TRUE(bench.ask_change(10.0).ok());
}

}  // namespace
}  // namespace brinegate

namespace brinegate::daemon {
namespace {

TEST(S14Daemon, WhatADriverFindsSwitchedByAnotherIsAnAlarm) {
  BenchEngine bench;
  bench.prove();
  bench.send(OutputReported{{{0, drivers::OutputRole::Pump}, false, SampleFault::BadAnswer, true}});
  bench.pass(2 * bench.turn());
  const auto told = bench.station();
  ASSERT_EQ(told["alarms"].size(), 1U);
  EXPECT_EQ(told["alarms"][0]["id"], "output-taken-over");
  EXPECT_EQ(bench.on_disk("alarm").size(), 1U);
}

}  // namespace
}  // namespace brinegate::daemon
