// SPDX-License-Identifier: Apache-2.0
// S9: everything that decides uses the monotonic clock; a jump of wall time changes no decision.
#include <gtest/gtest.h>

#include "tests/safety/bench_station.h"

namespace brinegate {
namespace {

TEST(S9, JumpsOfWallTimeChangeNothingInTheCourseOfABatch) {
  BenchStation steady;
  BenchStation jumping;
  const auto same = [&](const char* when) {
    SCOPED_TRACE(when);
    EXPECT_EQ(steady.phase(), jumping.phase());
    EXPECT_EQ(steady.open(), jumping.open());
    EXPECT_EQ(steady.pump_on(), jumping.pump_on());
    for (std::size_t i = 0; i < check_count; ++i)
      EXPECT_EQ(steady.station().checks()[i].verdict, jumping.station().checks()[i].verdict);
  };
  const std::vector<Duration> jumps{1h, -2h, 24h * 365, -24h * 3650, 1s, -1s};
  steady.pass(30s);
  jumping.pass(30s);
  steady.begin_batch();
  jumping.begin_batch();
  for (int minute = 0; minute < 50; ++minute) {
    jumping.jump_wall_time(jumps[static_cast<std::size_t>(minute) % jumps.size()]);
    steady.pass(1min);
    jumping.pass(1min);
    same("while it is mixed and proven");
  }
  EXPECT_EQ(steady.ask_change(40.0).ok(), jumping.ask_change(40.0).ok());
  for (int i = 0; i < 60; ++i) {
    jumping.jump_wall_time(jumps[static_cast<std::size_t>(i) % jumps.size()]);
    steady.pass(5s);
    jumping.pass(5s);
    same("while it is drawn");
  }
}

TEST(S9, AgeAcrossARestartWaitsForABelievableClock) {
  BenchStation bench;
  bench.prove();
  const StationMemory memory = bench.station().memory(bench.now());
  bench.jump_wall_time(-24h * 365);  // a computer without a battery-backed clock
  bench.restart(memory);
  bench.pass(20min);
  EXPECT_EQ(bench.verdict(CheckId::NotTooOld), Verdict::Waiting);
  EXPECT_FALSE(bench.ask_change(10.0).ok());
  bench.jump_wall_time(24h * 365);
  bench.pass(20s);
  EXPECT_EQ(bench.verdict(CheckId::NotTooOld), Verdict::Met);
}

TEST(S9, ABatchThatGrewTooOldWhileTheDaemonWasAwayIsTooOld) {
  BenchStation bench;
  bench.prove();
  const StationMemory memory = bench.station().memory(bench.now());
  bench.jump_wall_time(24h * 15);
  bench.restart(memory);
  bench.pass(20min);
  EXPECT_EQ(bench.verdict(CheckId::NotTooOld), Verdict::Violated);
}

}  // namespace
}  // namespace brinegate
