// SPDX-License-Identifier: Apache-2.0
// S4: samples are tested; a bad one never enters a decision, and one bubble does not shut the gate.
#include <cmath>
#include <limits>

#include <gtest/gtest.h>

#include "tests/safety/bench_station.h"

namespace brinegate {
namespace {

class S4 : public testing::Test {
 protected:
  S4() {
    bench.prove();
    EXPECT_TRUE(bench.ask_change(60.0).ok());
    bench.pass(10s);
    EXPECT_TRUE(bench.pump_on());
  }
  // The cell shows this from now on, at the bench's temperature.
  void cell_shows(double value) { bench.shown[BenchStation::cell] = value; }
  void cell_is_honest_again() { bench.shown.erase(BenchStation::cell); }

  BenchStation bench;
};

TEST_F(S4, OneBubbleDoesNotShutTheGate) {
  cell_shows(41.0);
  bench.pass(1s);
  cell_is_honest_again();
  bench.pass(10s);
  EXPECT_TRUE(bench.pump_on());
  EXPECT_TRUE(bench.events<GateShut>().empty());
}

TEST_F(S4, BubblesThatLeaveNoGoodSampleDo) {
  for (int i = 0; i < 8; ++i) {
    cell_shows(41.0 - 4.0 * (i % 3));  // never twice the same
    bench.pass(1s);
  }
  EXPECT_FALSE(bench.pump_on());
}

TEST_F(S4, AFlatLineIsNoReading) {
  cell_is_honest_again();
  StationSpec spec = bench_spec();
  spec.probes[BenchStation::cell].limits.flat_line_after = 10min;
  ProbeJudge judge(spec.probes[BenchStation::cell]);
  Instant now{MonoTime(1h), WallTime{}};
  for (int second = 0; second < 599; ++second) {
    now.mono += 1s;
    Sample sample;
    sample.value = 53.07;
    sample.fault = SampleFault::None;
    sample.arrived = now.mono;
    judge.take(sample, {}, true, now);
  }
  EXPECT_TRUE(judge.reading(now.mono).is_good());
  for (int second = 0; second < 5; ++second) {
    now.mono += 1s;
    Sample sample;
    sample.value = 53.07;
    sample.fault = SampleFault::None;
    sample.arrived = now.mono;
    judge.take(sample, {}, true, now);
  }
  EXPECT_EQ(judge.reading(now.mono).reason(), QualityReason::FlatLine);
}

struct BadValue {
  const char* name;
  double value;
  QualityReason reason;
};

TEST_F(S4, ValuesThatNoHonestProbeShowsAreNoSamples) {
  const double swapped = 71.63;  // 53.065 as a float read with its words swapped (computed)
  const std::vector<BadValue> bad{
      {"above gross range (swapped words)", swapped, QualityReason::GrossRange},
      {"below gross range", -3.0, QualityReason::GrossRange},
      {"exactly zero", 0.0, QualityReason::ExactlyZero},
      {"in air", 0.2, QualityReason::InAir},
      {"not a number", std::numeric_limits<double>::quiet_NaN(), QualityReason::NotANumber},
      {"infinite", std::numeric_limits<double>::infinity(), QualityReason::NotANumber}};
  for (const BadValue& each : bad) {
    SCOPED_TRACE(each.name);
    BenchStation fresh;
    fresh.prove();
    ASSERT_TRUE(fresh.ask_change(60.0).ok());
    fresh.pass(5s);
    fresh.shown[BenchStation::cell] = each.value;
    fresh.pass(7s);
    EXPECT_FALSE(fresh.pump_on());
    EXPECT_EQ(fresh.station().readings()[BenchStation::cell].reason(), each.reason);
    EXPECT_FALSE(fresh.station().readings()[BenchStation::cell].good_value().has_value());
  }
}

TEST_F(S4, AJumpThatLastsIsBelievedAndShutsTheGate) {
  cell_shows(50.0);  // 2.3 PSU less
  bench.pass(3s);
  EXPECT_FALSE(bench.pump_on());
  const auto shuts = bench.events<GateShut>();
  ASSERT_FALSE(shuts.empty());
  EXPECT_EQ(shuts.back().first_out->id, CheckId::OnTarget);
}

TEST_F(S4, TwoCellsThatDisagreeAreNamedAndNothingIsAveraged) {
  StationSpec spec = bench_spec();
  ProbeSpec second = spec.probes[BenchStation::cell];
  second.name = "cell_b";
  spec.probes.push_back(second);
  BenchStation two(spec);
  const double honest = conductivity(PracticalSalinity(34.836), Celsius(25.0)).value();
  two.shown[6] = honest;
  two.prove();
  ASSERT_EQ(two.phase(), BatchPhase::Proven);
  ASSERT_TRUE(two.ask_change(40.0).ok());
  two.pass(5s);
  ASSERT_TRUE(two.pump_on());
  two.shown[6] = honest * 0.97;
  two.pass(5s);
  EXPECT_FALSE(two.pump_on());
  EXPECT_EQ(two.verdict(CheckId::CellsAgree), Verdict::Violated);
  const auto& check = two.station().checks()[static_cast<std::size_t>(CheckId::CellsAgree)];
  ASSERT_EQ(check.troubles.size(), 2U);
  EXPECT_EQ(check.troubles[0].probe, 0U);
  EXPECT_EQ(check.troubles[1].probe, 6U);
}

}  // namespace
}  // namespace brinegate
