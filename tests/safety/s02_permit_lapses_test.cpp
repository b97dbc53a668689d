// SPDX-License-Identifier: Apache-2.0
// S2: a permit lapses by itself: the output is told an end, renewed at a third of the lease.
#include <gtest/gtest.h>

#include "tests/safety/bench_engine.h"

namespace brinegate::daemon {
namespace {

// Whoever thaws us may bring fresh samples and the device's answer in the same moment.
TEST(S2, WhatLapsedWhileTheDaemonStoodStillIsNotDrivenOnAgain) {
  for (const Duration beyond : {Duration(0ms), Duration(1s), Duration(1min)}) {
    BenchEngine bench;
    bench.prove();
    ASSERT_TRUE(bench.ask_change("50 L"));
    bench.pass(5s);
    ASSERT_TRUE(bench.pump_on());
    bench.stand_still(bench.lease() + beyond);
    bench.send(OutputReported{{{0, drivers::OutputRole::Pump}, true, SampleFault::None}});
    bench.forget();
    bench.pass(10s);
    for (const auto& drive : bench.drives(drivers::OutputRole::Pump))
      EXPECT_FALSE(drive.effect.on_until.has_value());
    EXPECT_EQ(bench.station()["gate"], "shut");
    EXPECT_EQ(bench.on_disk("change-ended").size(), 1U);
  }
}

TEST(S2, EveryOnHasAnEndOneLeaseAheadAndIsRenewedAtAThirdOfIt) {
  BenchEngine bench;
  bench.prove();
  ASSERT_TRUE(bench.ask_change("30 L"));
  bench.forget();
  bench.pass(20s);
  const auto drives = bench.drives(drivers::OutputRole::Pump);
  ASSERT_GE(drives.size(), 10U);
  for (std::size_t i = 0; i < drives.size(); ++i) {
    ASSERT_TRUE(drives[i].effect.on_until.has_value());
    EXPECT_EQ(*drives[i].effect.on_until - drives[i].at, bench.lease());
    if (i > 0) {
      EXPECT_LE(drives[i].at - drives[i - 1].at, bench.lease() / 3 + bench.turn());
    }
  }
}

TEST(S2, AnEngineThatIsNotTurnedAnyMoreLeavesNothingOnPastTheLease) {
  BenchEngine bench;
  bench.prove();
  ASSERT_TRUE(bench.ask_change("30 L"));
  bench.pass(10s);
  const auto drives = bench.drives(drivers::OutputRole::Pump);
  ASSERT_FALSE(drives.empty());
  EXPECT_LE(*drives.back().effect.on_until - bench.now().mono, bench.lease());
}

TEST(S2, ShuttingTellsTheOutputOffInTheSameTurn) {
  BenchEngine bench;
  bench.prove();
  ASSERT_TRUE(bench.ask_change("30 L"));
  bench.pass(10s);
  bench.forget();
  bench.shown[BenchEngine::leak] = 1.0;
  bench.pass(bench.turn() * 6);
  const auto drives = bench.drives(drivers::OutputRole::Pump);
  ASSERT_FALSE(drives.empty());
  EXPECT_FALSE(drives.back().effect.on_until.has_value());
}

TEST(S2, AnOffIsStatedAgainForADeviceThatForgot) {
  BenchEngine bench;
  bench.pass(1min);
  bench.forget();
  bench.pass(1min);
  const auto drives = bench.drives(drivers::OutputRole::Pump);
  EXPECT_GE(drives.size(), 10U);
  for (const auto& drive : drives)
    EXPECT_FALSE(drive.effect.on_until.has_value());
}

}  // namespace
}  // namespace brinegate::daemon
