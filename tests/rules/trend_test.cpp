// SPDX-License-Identifier: Apache-2.0
#include "rules/trend.h"

#include <cmath>

#include <gtest/gtest.h>

namespace brinegate {
namespace {

using namespace std::chrono_literals;

Trend thermometer() {
  return Trend(0.1, 2min, 30min);
}

TEST(Trend, FollowsARampWithoutLag) {
  Trend trend = thermometer();
  const double per_second = 10.0 / 3600.0;  // a strong heater
  for (int s = 0; s < 3600; s += 5)
    trend.add(MonoTime(std::chrono::seconds(s)), 12.0 + per_second * s);
  EXPECT_NEAR(trend.level(), 12.0 + per_second * 3595, 0.01);
  EXPECT_NEAR(trend.per_second(), per_second, 0.02 * per_second);
}

TEST(Trend, SmoothsTheStepsOfACoarseDisplay) {
  Trend trend = thermometer();
  double worst = 0.0;
  for (int s = 0; s < 4 * 3600; s += 5) {
    const double truth = 25.2 - 0.05 * s / 3600.0;  // drifts over one step in four hours
    // A little noise dithers the display.
    const double noise = 0.03 * std::sin(0.7 * s);
    trend.add(MonoTime(std::chrono::seconds(s)), std::round((truth + noise) * 10.0) / 10.0);
    if (s > 3600)
      worst = std::max(worst, std::abs(trend.per_second()) * 600.0);
  }
  EXPECT_LT(worst, 0.05) << "°C in ten minutes, where the display steps by 0.1";
}

TEST(Trend, BeginsAnewAfterAGap) {
  Trend trend = thermometer();
  trend.add(MonoTime(0s), 20.0);
  trend.add(MonoTime(1s), 20.1);
  trend.add(MonoTime(2h), 25.0);
  EXPECT_EQ(trend.level(), 25.0);
  EXPECT_EQ(trend.per_second(), 0.0);
}

}  // namespace
}  // namespace brinegate
