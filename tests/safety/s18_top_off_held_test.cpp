// SPDX-License-Identifier: Apache-2.0
// S18: automatic top-off and dosing on the tank are held off during a change, with confirmation;
// fresh water poured in by a top-off that saw the level fall is a known killer.
#include <gtest/gtest.h>

#include "tests/safety/bench_engine.h"
#include "tests/safety/bench_station.h"

namespace brinegate {
namespace {

class S18 : public testing::Test {
 protected:
  BenchStation bench{held_off_spec()};

  void draw(double litres) {
    bench.prove();
    ASSERT_FALSE(bench.hold_off_on());
    ASSERT_TRUE(bench.ask_change(litres).ok());
    bench.pass(15s);
    ASSERT_TRUE(bench.pump_on());
  }
  void acknowledge(AlarmId alarm) { ASSERT_TRUE(bench.ask(AcknowledgeCommand{alarm}).ok()); }
};

TEST_F(S18, TheGateOpensOnlyOnceTheHoldIsConfirmed) {
  bench.prove();
  bench.hold_follows = false;
  ASSERT_TRUE(bench.ask_change(10.0).ok());
  bench.pass(25s);
  EXPECT_TRUE(bench.hold_off_on());
  EXPECT_EQ(bench.verdict(CheckId::TopOffHeld), Verdict::Waiting);
  EXPECT_FALSE(bench.open());
  EXPECT_TRUE(bench.station().change().has_value());
  EXPECT_TRUE(bench.events<PermitAsked>().empty());
  bench.hold_follows = true;
  bench.pass(15s);
  EXPECT_EQ(bench.verdict(CheckId::TopOffHeld), Verdict::Met);
  EXPECT_TRUE(bench.open());
}

TEST_F(S18, AHoldThatIsNotConfirmedInTimeEndsTheChangeBeforeItBegan) {
  bench.prove();
  bench.hold_follows = false;
  ASSERT_TRUE(bench.ask_change(10.0).ok());
  bench.pass(bench.spec().hold_off->confirm_within + 2s);
  ASSERT_EQ(bench.events<ChangeEnded>().size(), 1U);
  EXPECT_EQ(bench.events<ChangeEnded>()[0].end, ChangeEnd::NotHeldOff);
  EXPECT_EQ(bench.events<ChangeEnded>()[0].drawn, Litres(0.0));
  EXPECT_TRUE(bench.events<GateOpened>().empty());
  EXPECT_FALSE(bench.station().alarms().is_normal(AlarmId::ChangeEndedEarly));
}

TEST_F(S18, AHoldThatIsLostShutsTheGateAndIsNamed) {
  draw(40.0);
  bench.hold_follows = false;
  bench.pass(2s);
  EXPECT_FALSE(bench.pump_on());
  EXPECT_EQ(bench.events<GateShut>().back().first_out->id, CheckId::TopOffHeld);
  EXPECT_EQ(bench.events<ChangeEnded>().back().end, ChangeEnd::GateShut);
}

TEST_F(S18, AContactThatFallsSilentShutsTheGate) {
  draw(40.0);
  bench.silent.insert(BenchStation::top_off);
  bench.pass(7s);
  EXPECT_FALSE(bench.pump_on());
}

// It would confirm a hold that nobody obeys.
TEST_F(S18, AContactThatReadsHeldAllTheTimeConfirmsNothing) {
  bench.hold_stuck = true;
  bench.prove();
  ASSERT_TRUE(bench.ask_change(10.0).ok());
  bench.pass(40s);
  EXPECT_EQ(bench.events<ChangeEnded>().at(0).end, ChangeEnd::NotHeldOff);
  EXPECT_TRUE(bench.events<GateOpened>().empty());
}

TEST_F(S18, TheyAreHeldOffUntilTheLevelHasRested) {
  draw(10.0);
  for (int i = 0; i < 120 && bench.pump_on(); ++i)
    bench.pass(1s);
  for (int i = 0; i < 60; ++i) {  // hoses run empty
    bench.shown[BenchStation::height] -= 0.02;
    bench.pass(1s);
  }
  EXPECT_TRUE(bench.hold_off_on());
  bench.pass(bench.spec().hold_off->rest + 2s);
  EXPECT_FALSE(bench.hold_off_on());
  EXPECT_EQ(bench.verdict(CheckId::TopOffHeld), Verdict::NotAsked);
}

TEST_F(S18, ALevelThatNeverRestsDoesNotKeepTheTankWithoutFreshWater) {
  draw(10.0);
  for (int i = 0; i < 12 * 60; ++i) {
    bench.shown[BenchStation::height] += i % 2 == 0 ? 0.6 : -0.6;
    bench.pass(1s);
  }
  EXPECT_FALSE(bench.hold_off_on());
}

TEST_F(S18, AfterAChangeThatEndedEarlyTheyAreHeldOffUntilAPersonHasSeen) {
  draw(40.0);
  bench.shown[BenchStation::leak] = 1.0;
  bench.pass(30min);
  ASSERT_FALSE(bench.station().alarms().is_normal(AlarmId::ChangeEndedEarly));
  EXPECT_TRUE(bench.hold_off_on());
  acknowledge(AlarmId::ChangeEndedEarly);
  bench.pass(2min);
  EXPECT_FALSE(bench.hold_off_on());
}

TEST_F(S18, WhatIsLetGoAndStillHeldIsAnAlarm) {
  draw(10.0);
  bench.pass(1min);
  bench.hold_stuck = true;
  bench.pass(2min);
  ASSERT_FALSE(bench.hold_off_on());
  EXPECT_EQ(bench.station().alarms().state(AlarmId::TopOffStillHeld), AlarmState::Unacknowledged);
  bench.hold_stuck = false;
  bench.pass(2s);
  EXPECT_EQ(bench.station().alarms().state(AlarmId::TopOffStillHeld),
            AlarmState::ReturnedUnacknowledged);
}

TEST_F(S18, TheNextChangeSoonAfterTheLastIsConfirmedAnew) {
  draw(10.0);
  bench.pass(1min);
  ASSERT_FALSE(bench.pump_on());
  ASSERT_TRUE(bench.hold_off_on());
  bench.forget_events();
  bench.hold_follows = false;
  ASSERT_TRUE(bench.ask_change(10.0).ok());
  bench.pass(40s);
  EXPECT_TRUE(bench.events<GateOpened>().empty());
}

// What the pump feeds starts by itself and cannot wait.
TEST(S18WhileProven, ARunIsHeldOffAndWithoutConfirmationShutsUntilAPersonHasSeen) {
  StationSpec spec = held_off_spec();
  spec.pump->permit = PermitMode::WhileProven;
  BenchStation bench(spec);
  bench.pump_litres_per_minute = 0.5;
  bench.hold_follows = false;
  bench.pass(30s);
  bench.begin_batch();
  for (int i = 0; i < 3600 && !bench.pump_on(); ++i)
    bench.pass(1s);
  ASSERT_TRUE(bench.pump_on());
  bench.pass(5s);
  EXPECT_TRUE(bench.hold_off_on());
  bench.pass(spec.hold_off->confirm_within);
  EXPECT_FALSE(bench.pump_on());
  EXPECT_FALSE(bench.station().alarms().is_normal(AlarmId::TopOffNotHeld));
  bench.pass(10min);
  EXPECT_FALSE(bench.pump_on());
  EXPECT_EQ(bench.events<GateOpened>().size(), 1U);
  ASSERT_TRUE(bench.ask(AcknowledgeCommand{AlarmId::TopOffNotHeld}).ok());
  bench.hold_follows = true;
  bench.pass(1min);
  EXPECT_TRUE(bench.pump_on());
}

}  // namespace
}  // namespace brinegate

namespace brinegate::daemon {
namespace {

TEST(S18Daemon, TheHoldIsALeaseRenewedInTime) {
  BenchEngine bench({}, BenchEngine::start(), exchange_site());
  bench.prove();
  bench.forget();
  ASSERT_TRUE(bench.ask_change("20 L"));
  bench.pass(std::chrono::minutes(2));
  const auto drives = bench.drives(drivers::OutputRole::HoldOff);
  ASSERT_GT(drives.size(), 4U);
  const Duration lease = exchange_site().stations[0].spec.hold_off->lease;
  for (std::size_t i = 0; i + 1 < drives.size(); ++i) {
    ASSERT_TRUE(drives[i].effect.on_until.has_value());
    EXPECT_EQ(*drives[i].effect.on_until - drives[i].at, lease);
    EXPECT_LE(drives[i + 1].at - drives[i].at, lease / 3 + bench.turn());
  }
}

TEST(S18Daemon, AfterACrashDuringAChangeTheyAreHeldOffAgainAtOnce) {
  BenchEngine before({}, BenchEngine::start(), exchange_site());
  before.prove();
  ASSERT_TRUE(before.ask_change("40 L"));
  before.pass(std::chrono::minutes(1));
  BenchEngine after(before.stored(), before.now(), exchange_site());
  after.shown = before.shown;
  after.pass(after.turn());
  const auto drives = after.drives(drivers::OutputRole::HoldOff);
  ASSERT_FALSE(drives.empty());
  EXPECT_TRUE(drives.front().effect.on_until.has_value());
}

}  // namespace
}  // namespace brinegate::daemon
