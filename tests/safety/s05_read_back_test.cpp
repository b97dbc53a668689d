// SPDX-License-Identifier: Apache-2.0
// S5: the pump running while shut, not running while open, and the level falling while shut each
// raise an alarm within their time; the first two drop the second cut-off.
#include <gtest/gtest.h>

#include "tests/safety/bench_station.h"

namespace brinegate {
namespace {

TEST(S5, AWeldedRelayIsFoundWithinItsTimeAndDropsTheSecondCutoff) {
  BenchStation bench;
  bench.prove();
  ASSERT_TRUE(bench.second_cutoff_on());
  bench.relay_welded = true;
  bench.pass(bench.spec().pump->readback_within + 2s);
  EXPECT_EQ(bench.station().alarms().state(AlarmId::PumpRunningWhileShut),
            AlarmState::Unacknowledged);
  EXPECT_FALSE(bench.second_cutoff_on());
  EXPECT_EQ(bench.ask_change(10.0).code, AnswerCode::ChecksNotMet);
}

TEST(S5, APumpThatDoesNotRunWhileOpenShutsTheGateAndDropsTheSecondCutoff) {
  BenchStation bench;
  bench.prove();
  bench.relay_follows = false;
  ASSERT_TRUE(bench.ask_change(10.0).ok());
  bench.pass(bench.spec().pump->readback_within + 3s);
  EXPECT_FALSE(bench.pump_on());
  EXPECT_FALSE(bench.second_cutoff_on());
  EXPECT_FALSE(bench.station().alarms().is_normal(AlarmId::PumpNotRunningWhileOpen));
  EXPECT_EQ(bench.events<GateShut>().back().first_out->id, CheckId::PumpFollows);
}

TEST(S5, TheGateStaysShutUntilAPersonAcknowledgesAndThenOpensAgain) {
  BenchStation bench;
  bench.prove();
  bench.relay_welded = true;
  bench.pass(10s);
  bench.relay_welded = false;
  bench.pass(1min);
  EXPECT_EQ(bench.station().alarms().state(AlarmId::PumpRunningWhileShut),
            AlarmState::ReturnedUnacknowledged);
  EXPECT_FALSE(bench.ask_change(10.0).ok());
  EXPECT_TRUE(bench.ask(AcknowledgeCommand{AlarmId::PumpRunningWhileShut}).ok());
  bench.pass(15s);
  EXPECT_TRUE(bench.second_cutoff_on());
  EXPECT_TRUE(bench.ask_change(10.0).ok());
}

TEST(S5, TheLevelFallingWhileShutIsAnAlarmAndBlocks) {
  BenchStation bench;
  bench.prove();
  for (int i = 0; i < 60; ++i) {  // a siphon: 6 L in a minute
    bench.shown[BenchStation::height] -= 0.1;
    bench.pass(1s);
  }
  EXPECT_FALSE(bench.station().alarms().is_normal(AlarmId::LevelFallingWhileShut));
  EXPECT_EQ(bench.ask_change(10.0).code, AnswerCode::ChecksNotMet);
}

TEST(S5, EvaporationIsNoLossOfWater) {
  BenchStation bench;
  bench.prove();
  for (int i = 0; i < 24 * 60; ++i) {  // 4 L in a day (common practice, no source)
    bench.shown[BenchStation::height] -= 4.0 / (24 * 60);
    bench.pass(1min, 1s);
  }
  EXPECT_TRUE(bench.station().alarms().is_normal(AlarmId::LevelFallingWhileShut));
}

TEST(S5, WaterTakenOutByAPersonWhoSaysSoIsNoAlarm) {
  BenchStation bench;
  bench.prove();
  NoteCommand note;
  note.removed = Litres(10.0);
  bench.shown[BenchStation::height] -= 10.0;
  ASSERT_TRUE(bench.ask(note).ok());
  bench.pass(5min);
  EXPECT_TRUE(bench.station().alarms().is_normal(AlarmId::LevelFallingWhileShut));
}

}  // namespace
}  // namespace brinegate
