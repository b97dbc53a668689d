// SPDX-License-Identifier: Apache-2.0
// S17: a simulated or replayed source never satisfies a check for a real output.
#include <gtest/gtest.h>

#include "tests/safety/bench_station.h"

namespace brinegate {
namespace {

TEST(S17, SimulatedSamplesNeverOpenARealPump) {
  BenchStation bench;
  bench.simulated = true;
  bench.prove();
  EXPECT_EQ(bench.verdict(CheckId::RealSource), Verdict::Violated);
  EXPECT_FALSE(bench.ask_change(10.0).ok());
}

TEST(S17, OneSimulatedSampleAmongRealOnesShutsTheGate) {
  BenchStation bench;
  bench.prove();
  ASSERT_TRUE(bench.ask_change(40.0).ok());
  bench.pass(5s);
  bench.simulated = true;
  bench.pass(1s);
  EXPECT_FALSE(bench.pump_on());
  EXPECT_EQ(bench.events<GateShut>().back().first_out->id, CheckId::RealSource);
}

TEST(S17, AProbeWhoseLineSaysItIsSimulatedIsSoWithoutAMarkOnItsSamples) {
  StationSpec spec = bench_spec();
  spec.probes[BenchStation::bath].simulated = true;
  BenchStation bench(spec);
  bench.prove();
  EXPECT_FALSE(bench.ask_change(10.0).ok());
}

TEST(S17, ASimulatedPumpMayBeMovedBySimulatedWater) {
  StationSpec spec = bench_spec();
  spec.pump->simulated = true;
  BenchStation bench(spec);
  bench.simulated = true;
  bench.prove();
  EXPECT_TRUE(bench.ask_change(10.0).ok());
}

}  // namespace
}  // namespace brinegate
