// SPDX-License-Identifier: Apache-2.0
// The slope of the last window: known only when the whole window is covered.
#include "rules/course.h"

#include <cmath>
#include <random>

#include <gtest/gtest.h>

namespace brinegate {
namespace {

using namespace std::chrono_literals;

constexpr Duration window = 10min;
constexpr MonoTime start{100h};

// One value a second, a straight line.
Course line(double per_second, Duration length, Duration gap_from = {}, Duration gap_to = {}) {
  Course course(window);
  for (Duration t{0}; t <= length; t += 1s)
    if (t < gap_from || t >= gap_to)
      course.add(start + t, 35.0 + per_second * seconds(t));
  return course;
}

TEST(Course, KnowsTheSlopeOfALine) {
  const auto summary = line(1e-4, 11min).summary(start + 11min);
  ASSERT_TRUE(summary);
  EXPECT_NEAR(summary->slope_per_second, 1e-4, 1e-12);
  EXPECT_NEAR(summary->slope_standard_error, 0.0, 1e-9);
  EXPECT_NEAR(summary->mean, 35.0 + 1e-4 * 360.0, 0.002);
}

TEST(Course, IsSilentUntilTheWindowIsCovered) {
  const Course course = line(0.0, 9min);
  EXPECT_FALSE(course.summary(start + 9min));
  EXPECT_NEAR(course.coverage(start + 9min), 0.95, 0.06);
}

TEST(Course, IsSilentWhenTheNewestAreMissingOrTheyAreOld) {
  const Course course = line(0.0, 11min);
  EXPECT_TRUE(course.summary(start + 11min + 30s));
  EXPECT_FALSE(course.summary(start + 12min + 30s));
  EXPECT_FALSE(course.summary(start + 5h));
  EXPECT_EQ(course.coverage(start + 5h), 0.0);
}

TEST(Course, BridgesAShortGapAndNoLongOne) {
  EXPECT_TRUE(line(0.0, 11min, 5min, 6min).summary(start + 11min));
  EXPECT_FALSE(line(0.0, 11min, 5min, 7min).summary(start + 11min));
}

TEST(Course, ForgetsAtReset) {
  Course course = line(0.0, 11min);
  course.reset();
  EXPECT_FALSE(course.summary(start + 11min));
  EXPECT_EQ(course.coverage(start + 11min), 0.0);
}

TEST(Course, TakesNothingFromBeforeTheWindow) {
  Course course = line(0.0, 11min);
  course.add(start - 5h, 1e6);
  EXPECT_NEAR(course.summary(start + 11min)->mean, 35.0, 1e-9);
}

// The standard error must cover the truth about as often as Student's t with 19 degrees of freedom
// does: 94 % within two of them; and that at every moment of a slot, also when it has just begun.
TEST(Course, StatesHowSureTheSlopeIs) {
  constexpr int rounds = 2000;
  std::mt19937 random(1);
  std::normal_distribution<double> noise(0.0, 0.1);
  for (const Duration end : {11min + 0s, 11min + 15s, 11min + 29s}) {
    int covered = 0;
    for (int i = 0; i < rounds; ++i) {
      Course course(window);
      for (Duration t{0}; t <= end; t += 1s)
        course.add(start + t, 35.0 + noise(random));
      const auto summary = course.summary(start + end);
      ASSERT_TRUE(summary);
      covered += std::abs(summary->slope_per_second) <= 2.0 * summary->slope_standard_error ? 1 : 0;
    }
    EXPECT_NEAR(covered / static_cast<double>(rounds), 0.94, 0.02);
  }
}

}  // namespace
}  // namespace brinegate
