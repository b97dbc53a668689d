// SPDX-License-Identifier: Apache-2.0
// The table of closed forms is in tests/reference; here what it does not show.
#include "rules/chemistry/exchange.h"

#include <algorithm>
#include <cmath>
#include <random>

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include "tests/uniform.h"

namespace brinegate {
namespace {

using namespace std::chrono_literals;

constexpr Duration week = 7 * 24h;

ChangePlan weekly(double fraction, int changes = 1) {
  ChangePlan plan;
  plan.fraction = fraction;
  plan.interval = week;
  plan.changes = changes;
  return plan;
}

ChangePlan steady_flow(double fraction, int weeks = 1) {
  ChangePlan plan = weekly(fraction, weeks);
  plan.mode = ExchangeMode::Continuous;
  return plan;
}

Consumption constant(double per_day, double uncertainty = 0.0) {
  return {Kinetics::ConstantRate, per_day, uncertainty};
}
Consumption proportional(double per_day, double uncertainty = 0.0) {
  return {Kinetics::Proportional, per_day, uncertainty};
}
CensoredValue exactly(double content) {
  return measured(content, 0.0);
}

double end(double start, double new_water, const Consumption& used, const ChangePlan& plan) {
  return after_changes(exactly(start), exactly(new_water), used, plan).after.middle();
}

// The definition, step by step.
double looped(double content, double new_water, const Consumption& used, const ChangePlan& plan) {
  const double days = seconds(plan.interval) / 86'400.0;
  for (int change = 0; change < plan.changes; ++change) {
    content = used.kinetics == Kinetics::Proportional
                  ? content * std::exp(-used.per_day * days)
                  : std::max(0.0, content - used.per_day * days);
    content += plan.fraction * (new_water - content);
  }
  return content;
}

Consumption any_consumption() {
  return *rc::gen::arbitrary<bool>() ? proportional(uniform(0.0, 0.2))
                                     : constant(uniform(-2.0, 10.0));
}

RC_GTEST_PROP(Exchange, ClosedFormsAreTheRecurrenceWithItsClamps, ()) {
  const ChangePlan plan = weekly(uniform(0.01, 1.0), *rc::gen::inRange(0, 40));
  const double start = uniform(0.0, 100.0);
  const double new_water = uniform(0.0, 100.0);
  const Consumption used = any_consumption();
  const double expected = looped(start, new_water, used, plan);
  RC_ASSERT(std::abs(end(start, new_water, used, plan) - expected) <= 1e-10 * (1.0 + expected));
}

TEST(Exchange, WhatIsUsedUpClampsAtNothingAndRecoversWhereTheNewWaterOutdoesIt) {
  // 7 a week of 3 leave 0; half of the new water's 20 is 10, of which 3 are left a week later.
  const ChangePlan plan = weekly(0.5, 2);
  const auto points = course(exactly(3.0), exactly(20.0), constant(1.0), plan);
  EXPECT_DOUBLE_EQ(points[0].before.middle(), 0.0);
  EXPECT_DOUBLE_EQ(points[0].after.middle(), 10.0);
  EXPECT_DOUBLE_EQ(points[1].before.middle(), 3.0);
  EXPECT_DOUBLE_EQ(points[1].after.middle(), 11.5);
}

TEST(Exchange, WhatIsAddedEveryDayRaisesTheSteadyState) {
  // After a change: c = (c + 7) / 2 + 5, so 17.
  const auto steady = steady_state(exactly(10.0), constant(-1.0), weekly(0.5));
  EXPECT_DOUBLE_EQ(steady.after.middle(), 17.0);
  EXPECT_DOUBLE_EQ(steady.before.middle(), 24.0);
}

TEST(Exchange, AContinuousExchangeStaysAtNothingOnceThere) {
  EXPECT_EQ(end(5.0, 2.0, constant(1.0), steady_flow(0.5, 4)), 0.0);
  EXPECT_EQ(steady_state(exactly(2.0), constant(1.0), steady_flow(0.5)).after.middle(), 0.0);
}

TEST(Exchange, WithoutAChangeTheStartIsLeft) {
  const CensoredValue start{0.0, 2.0, 0.5};
  const auto point = after_changes(start, exactly(9.0), constant(1.0), weekly(0.2, 0));
  EXPECT_EQ(point.before, start);
  EXPECT_EQ(point.after, start);
  EXPECT_TRUE(course(start, exactly(9.0), constant(1.0), weekly(0.2, 0)).empty());
}

RC_GTEST_PROP(Exchange, SmallChangesTendToTheContinuousOneAsOneOverTheirNumber, ()) {
  const double start = uniform(10.0, 100.0);
  const double new_water = uniform(0.0, 100.0);
  const Consumption used =
      *rc::gen::arbitrary<bool>() ? proportional(uniform(0.0, 0.1)) : constant(uniform(-1.0, 0.5));
  const double exchanged = uniform(0.1, 1.0);
  const double limit = end(start, new_water, used, steady_flow(exchanged));
  const auto error = [&](int parts) {
    ChangePlan plan = weekly(exchanged / parts, parts);
    plan.interval = week / parts;
    return std::abs(end(start, new_water, used, plan) - limit);
  };
  // The error is a/n + b/n² + ...; where a nearly vanishes there is no rate to see.
  RC_PRE(error(100) > 1e-3);
  RC_ASSERT(std::abs(error(1000) / error(100) - 0.1) < 0.02);
  RC_ASSERT(std::abs(error(10'000) / error(1000) - 0.1) < 0.02);
}

RC_GTEST_PROP(Exchange, IsLinearInTheNewWaterWhereNothingClamps, ()) {
  const ChangePlan plan = weekly(uniform(0.01, 0.9), *rc::gen::inRange(1, 30));
  const Consumption used = proportional(uniform(0.0, 0.1));
  const double start = uniform(0.0, 500.0);
  const double a = uniform(0.0, 500.0);
  const double b = uniform(0.0, 500.0);
  const double share = uniform(0.0, 1.0);
  const double mixed = end(start, share * a + (1.0 - share) * b, used, plan);
  const double apart =
      share * end(start, a, used, plan) + (1.0 - share) * end(start, b, used, plan);
  RC_ASSERT(std::abs(mixed - apart) < 1e-9 * (1.0 + mixed));
}

RC_GTEST_PROP(Exchange, AnIntervalHoldsWhateverTheTruthWithinComesTo, ()) {
  const auto interval = [] {
    const double low = uniform(0.0, 20.0);
    return CensoredValue{low, low + uniform(0.0, 20.0), 0.0};
  };
  const CensoredValue start = interval();
  const CensoredValue new_water = interval();
  const Consumption used = any_consumption();
  const ChangePlan plan = weekly(uniform(0.01, 1.0), *rc::gen::inRange(1, 10));
  const CensoredValue after = after_changes(start, new_water, used, plan).after;
  const double within =
      end(uniform(start.low, start.high), uniform(new_water.low, new_water.high), used, plan);
  RC_ASSERT(after.low <= within + 1e-9);
  RC_ASSERT(within <= after.high + 1e-9);
  RC_ASSERT(std::abs(after.low - end(start.low, new_water.low, used, plan)) < 1e-9);
  RC_ASSERT(std::abs(after.high - end(start.high, new_water.high, used, plan)) < 1e-9);
}

TEST(Exchange, UncertaintiesAddInQuadratureWithTheirSensitivities) {
  // Two halves: a quarter of the start, three quarters of the new water; the consumption of the
  // first week counts half and a half again, that of the second half.
  const auto after =
      after_changes(measured(400.0, 8.0), measured(440.0, 4.0), constant(1.0, 0.5), weekly(0.5, 2))
          .after;
  EXPECT_NEAR(after.standard_uncertainty, std::hypot(0.25 * 8.0, 0.75 * 4.0, 0.75 * 7.0 * 0.5),
              1e-9);
}

TEST(Exchange, AConsumptionThatErrsWithTheStartAddsToItsError) {
  Consumption used = constant(1.0, 0.5);
  used.correlation = -1.0;  // what the start has too much, the consumption has too little
  const auto after = after_changes(measured(400.0, 8.0), exactly(440.0), used, weekly(0.5)).after;
  EXPECT_NEAR(after.standard_uncertainty, 0.5 * (8.0 + 7.0 * 0.5), 1e-9);
}

// Against propagation of distributions (JCGM 101), where the consumption enters with a power.
TEST(Exchange, TheIntervalHoldsTheTruthIn95Of100) {
  const ChangePlan plan = weekly(0.2, 8);
  const auto after =
      after_changes(measured(60.0, 3.0), measured(40.0, 2.0), proportional(0.05, 0.01), plan).after;
  std::mt19937_64 random(20261125);
  std::normal_distribution<double> normal;
  constexpr int draws = 20'000;
  int covered = 0;
  for (int draw = 0; draw < draws; ++draw) {
    const double start = 60.0 + 3.0 * normal(random);
    const double new_water = 40.0 + 2.0 * normal(random);
    const double used = std::max(0.0, 0.05 + 0.01 * normal(random));
    const double truth = end(start, new_water, proportional(used), plan);
    covered += truth >= after.at_least() && truth <= after.at_most() ? 1 : 0;
  }
  EXPECT_GT(covered, 0.945 * draws);
  EXPECT_LT(covered, 0.985 * draws);  // a power is steeper on one side, and that side counts
}

TEST(Exchange, WhatClampsAtItsBestEstimateIsStillUncertainUpwards) {
  const auto before =
      after_changes(measured(6.0, 2.0), exactly(0.0), constant(1.0), weekly(0.5)).before;
  EXPECT_EQ(before.middle(), 0.0);
  EXPECT_NEAR(before.at_most(), 6.0 + 1.96 * 2.0 - 7.0, 1e-9);
}

InRange until(double low, double high, double start, double new_water, const Consumption& used,
              double fraction) {
  return changes_until(low, high, exactly(start), exactly(new_water), used, weekly(fraction));
}

TEST(ChangesUntil, CountsTheChanges) {
  // 50, 45, 40.5, 36.45, 32.805, 29.5
  EXPECT_EQ(until(0.0, 30.0, 50.0, 0.0, {}, 0.1).changes, 5);
  EXPECT_EQ(until(0.0, 30.0, 50.0, 0.0, {}, 0.1).surely, 5);
  EXPECT_EQ(until(0.0, 30.0, 20.0, 0.0, {}, 0.1).changes, 0);
}

TEST(ChangesUntil, NeverWhereTheSteadyStateIsOutside) {
  EXPECT_EQ(until(0.0, 30.0, 50.0, 31.0, {}, 0.1).changes, std::nullopt);
  // Passes through on its way down, and does not stay.
  EXPECT_EQ(until(30.0, 40.0, 50.0, 0.0, {}, 0.1).changes, std::nullopt);
  // Begins inside and leaves.
  EXPECT_EQ(until(30.0, 40.0, 35.0, 0.0, {}, 0.1).changes, std::nullopt);
  // What the tank uses holds it below.
  EXPECT_EQ(until(410.0, 450.0, 400.0, 440.0, constant(1.0), 0.1).changes, std::nullopt);
  EXPECT_TRUE(until(410.0, 450.0, 400.0, 440.0, constant(0.1), 0.1).changes);
}

TEST(ChangesUntil, AnEndThatIsOnlyTendedToIsNeverReachedFromOutsideAndNeverLeftFromInside) {
  EXPECT_EQ(until(440.0, 450.0, 400.0, 440.0, {}, 0.1).changes, std::nullopt);
  EXPECT_EQ(until(400.0, 440.0, 410.0, 440.0, {}, 0.1).changes, 0);
  EXPECT_EQ(until(440.0, 450.0, 400.0, 440.0, {}, 1.0).changes, 1);
}

TEST(ChangesUntil, CountsNotWhatComesInAndGoesOutAgain) {
  // The start is known well, the new water is not: the interval narrows and widens again.
  const auto in =
      changes_until(400.0, 450.0, measured(500.0, 2.0), measured(425.0, 30.0), {}, weekly(0.3));
  EXPECT_TRUE(in.changes);
  EXPECT_EQ(in.surely, std::nullopt);
}

TEST(ChangesUntil, IsSureLaterThanItIsLikely) {
  const auto in =
      changes_until(0.0, 30.0, measured(50.0, 5.0), CensoredValue{0.0, 4.0, 0.0}, {}, weekly(0.1));
  ASSERT_TRUE(in.changes && in.surely);
  EXPECT_EQ(*in.changes, 6);  // after 5 between 29.5 and 31.2, after 6 between 26.6 and 28.4
  EXPECT_GT(*in.surely, *in.changes);
}

RC_GTEST_PROP(ChangesUntil, IsWhatTheCourseShows, ()) {
  const double start = uniform(0.0, 100.0);
  const double new_water = uniform(0.0, 100.0);
  const Consumption used = any_consumption();
  const double low = uniform(0.0, 80.0);
  const double high = low + uniform(1.0, 30.0);
  const double fraction = uniform(0.05, 1.0);
  ChangePlan plan = weekly(fraction);
  int first = 1001;
  for (plan.changes = 1000; plan.changes >= 0; --plan.changes) {
    const double content = looped(start, new_water, used, plan);
    if (content < low - 1e-9 || content > high + 1e-9)
      break;
    first = plan.changes;
  }
  const auto expected = first > 1000 ? std::nullopt : std::optional(first);
  RC_ASSERT(until(low, high, start, new_water, used, fraction).changes == expected);
}

RC_GTEST_PROP(ChangesUntil, IsSureWhenTheWholeIntervalStays, ()) {
  const CensoredValue start = measured(uniform(0.0, 100.0), uniform(0.0, 10.0));
  const CensoredValue new_water = measured(uniform(0.0, 100.0), uniform(0.0, 5.0));
  const double low = uniform(0.0, 80.0);
  const double high = low + uniform(10.0, 60.0);
  const ChangePlan plan = weekly(uniform(0.05, 1.0), 1000);
  const auto outside = [&](const CensoredValue& content) {
    return content.at_least() < low - 1e-9 || content.at_most() > high + 1e-9;
  };
  std::optional<int> expected;
  const auto points = course(start, new_water, {}, plan);
  for (int change = plan.changes; change >= 0; --change) {
    if (outside(change > 0 ? points[static_cast<std::size_t>(change - 1)].after : start))
      break;
    expected = change;
  }
  RC_ASSERT(changes_until(low, high, start, new_water, {}, plan).surely == expected);
}

TEST(Exchange, AStepMovesSalinityAndTemperatureByTheShareReplaced) {
  ChangePlan plan = weekly(0.2);
  plan.salinity = PracticalSalinity(34.0);
  plan.temperature = Celsius(20.0);
  const TankStep step = step_of_change(PracticalSalinity(35.0), Celsius(25.0), plan);
  EXPECT_NEAR(step.salinity.value(), -0.2, 1e-12);
  EXPECT_NEAR(step.temperature.value(), -1.0, 1e-12);
  plan.mode = ExchangeMode::Continuous;
  EXPECT_NEAR(step_of_change(PracticalSalinity(35.0), Celsius(25.0), plan).salinity.value(),
              -(1.0 - std::exp(-0.2)), 1e-12);
}

}  // namespace
}  // namespace brinegate
