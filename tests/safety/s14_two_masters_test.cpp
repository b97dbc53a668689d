// SPDX-License-Identifier: Apache-2.0
// S14: a second daemon, or a person, that drives the same output shows in the read-back and in the
// level. Here the foreign hand holds the relay on or off; what the lines do about it, and the locks
// that keep a second daemon out, are shown with the drivers and the shell.
#include <gtest/gtest.h>

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

}  // namespace
}  // namespace brinegate
