// SPDX-License-Identifier: Apache-2.0
// S21: salinity stays flat while the temperature ramps. If it follows, compensation is missing or
// doubled, and the check says so.
#include <gtest/gtest.h>

#include "config/advice.h"
#include "tests/safety/bench_station.h"

namespace brinegate {
namespace {

// Cools by 6 °C in a night and warms again; the cell shows what it would in water of steady
// salinity when its reading is already compensated and is then taken for a raw one.
void live_through_a_night(BenchStation& bench, bool compensated_twice) {
  const auto show = [&](double celsius) {
    bench.shown[BenchStation::bath] = celsius;
    const double at = compensated_twice ? 25.0 : celsius;
    bench.shown[BenchStation::cell] =
        conductivity(PracticalSalinity(bench.salinity_psu), Celsius(at)).value();
  };
  show(25.0);
  bench.pass(90min);
  for (int minute = 0; minute < 360; ++minute) {
    const double down = minute < 180 ? minute : 360 - minute;
    show(25.0 - down / 30.0);
    bench.pass(1min);
  }
}

TEST(S21, ASalinityThatFollowsTheTemperatureIsNamed) {
  BenchStation bench;
  bench.pass(30s);
  bench.begin_batch();
  live_through_a_night(bench, true);
  EXPECT_EQ(bench.verdict(CheckId::TemperatureFlat), Verdict::Violated);
  EXPECT_FALSE(bench.open());
  const auto& check = bench.station().checks()[static_cast<std::size_t>(CheckId::TemperatureFlat)];
  // dSP/dt at SP 35, 25 °C is -0.775 (PSS-78, reference table conductivity_to_sp.csv).
  EXPECT_NEAR(check.measured.value_or(0.0), -0.775, 0.1);
  EXPECT_NE(config::sentence(check, bench.station()).find("compensation"), std::string::npos);
}

TEST(S21, ASteadySalinityIsNotBlamedForANight) {
  BenchStation bench;
  bench.pass(30s);
  bench.begin_batch();
  live_through_a_night(bench, false);
  EXPECT_EQ(bench.verdict(CheckId::TemperatureFlat), Verdict::Met);
}

}  // namespace
}  // namespace brinegate
