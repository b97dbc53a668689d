// SPDX-License-Identifier: Apache-2.0
#include "rules/chemistry/tank.h"

#include <algorithm>
#include <cmath>
#include <random>

#include <gtest/gtest.h>

namespace brinegate {
namespace {

using namespace std::chrono_literals;

constexpr Analyte ca = Analyte::Calcium;
constexpr WallTime begin{std::chrono::hours(24 * 365 * 56)};

WallTime day(double days) {
  return begin + from_seconds(days * 86'400.0);
}

Tank cellar() {
  Tank tank;
  tank.name = "cellar";
  tank.volume = Litres(500.0);
  tank.salinity = PracticalSalinity(35.0);
  return tank;
}

void test_at(Tank& tank, double days, const CensoredValue& content, double salinity = 35.0) {
  WaterTest test;
  test.at = day(days);
  test.assay.salinity = PracticalSalinity(salinity);
  test.assay.values[ca].content = content;
  tank.tests.push_back(test);
}

void change_at(Tank& tank, double days, Litres volume, std::optional<CensoredValue> content,
               double salinity = 35.0) {
  TankChange change;
  change.at = day(days);
  change.volume = volume;
  change.salinity = PracticalSalinity(salinity);
  change.composition.emplace();
  (*change.composition)[ca] = content;
  tank.changes.push_back(change);
}

TEST(Tank, WhatIsUsuallyWantedIsBroughtToItsSalinity) {
  Tank tank = cellar();
  tank.salinity = PracticalSalinity(17.5);
  const auto usual = analyte_row(ca).wanted;
  ASSERT_TRUE(usual);
  EXPECT_DOUBLE_EQ(wanted_of(tank, ca)->range.low, 0.5 * usual->low);
  EXPECT_DOUBLE_EQ(wanted_of(tank, ca)->range.high, 0.5 * usual->high);
  EXPECT_EQ(wanted_of(tank, ca)->source, analyte_row(ca).wanted_source);
  EXPECT_EQ(wanted_of(tank, Analyte::Lead), std::nullopt);
}

TEST(Tank, WhatTheKeeperWantsGoesFirst) {
  Tank tank = cellar();
  tank.wanted[ca] = {{390.0, 410.0}, 2.0, true, "set by the keeper"};
  EXPECT_EQ(wanted_of(tank, ca), tank.wanted[ca]);
}

TEST(Tank, TheLatestTestThatNamesTheAnalyteCountsAtTheSalinityOfTheTank) {
  Tank tank = cellar();
  test_at(tank, 0.0, measured(400.0, 4.0));
  test_at(tank, 7.0, measured(420.0, 4.2), 36.75);  // evaporated by a twentieth
  test_at(tank, 8.0, measured(430.0, 4.0));
  tank.tests.back().assay.values.clear();
  const auto latest = latest_content(tank, ca);
  ASSERT_TRUE(latest);
  EXPECT_DOUBLE_EQ(latest->content.middle(), 400.0);
  EXPECT_DOUBLE_EQ(latest->content.standard_uncertainty, 4.0);
  EXPECT_EQ(latest->at, day(7.0));
  EXPECT_FALSE(latest_content(tank, Analyte::Iron));
}

TEST(Consumption, IsWhatTheTestsLackOfWhatTheChangesMade) {
  Tank tank = cellar();
  test_at(tank, 0.0, measured(420.0, 3.0));
  change_at(tank, 5.0, Litres(100.0), measured(440.0, 0.0));
  // 5 days of 2 leave 410; a fifth of 440 makes 416; 5 days of 2 leave 406.
  test_at(tank, 10.0, measured(406.0, 4.0));
  const auto estimate = estimated_consumption(tank, ca);
  ASSERT_TRUE(estimate);
  EXPECT_EQ(estimate->tests, 2);
  EXPECT_EQ(estimate->consumption.kinetics, Kinetics::ConstantRate);
  EXPECT_NEAR(estimate->consumption.per_day, 2.0, 1e-9);
  // Of the first five days only four fifths are left to be seen.
  EXPECT_NEAR(estimate->consumption.standard_uncertainty, std::hypot(0.8 * 3.0, 4.0) / 9.0, 1e-9);
  EXPECT_NEAR(estimate->consumption.correlation, -4.0 / std::hypot(0.8 * 3.0, 4.0), 1e-9);
  EXPECT_EQ(consumption_of(tank, ca), estimate->consumption);
}

TEST(Consumption, OfAnUncertainNewWaterIsLessCertain) {
  Tank tank = cellar();
  test_at(tank, 0.0, measured(420.0, 3.0));
  change_at(tank, 5.0, Litres(100.0), measured(440.0, 10.0));
  test_at(tank, 10.0, measured(406.0, 4.0));
  EXPECT_NEAR(estimated_consumption(tank, ca)->consumption.standard_uncertainty,
              std::hypot(0.8 * 3.0, 4.0, 0.2 * 10.0) / 9.0, 1e-9);
}

TEST(Consumption, NeedsTwoTestsAndChangesThatAreKnown) {
  Tank tank = cellar();
  test_at(tank, 0.0, measured(420.0, 3.0));
  EXPECT_FALSE(estimated_consumption(tank, ca));
  EXPECT_EQ(consumption_of(tank, ca), Consumption{});
  change_at(tank, 5.0, Litres(100.0), std::nullopt);
  test_at(tank, 10.0, measured(406.0, 4.0));
  EXPECT_FALSE(estimated_consumption(tank, ca));
  test_at(tank, 14.0, measured(402.0, 4.0));  // after the unknown change a line of its own
  const auto estimate = estimated_consumption(tank, ca);
  ASSERT_TRUE(estimate);
  EXPECT_NEAR(estimate->consumption.per_day, 1.0, 1e-9);
  EXPECT_EQ(estimate->tests, 2);
}

TEST(Consumption, OfTestsThatScatterMoreThanTheyStateIsLessCertain) {
  const auto uncertainty = [](double scatter) {
    Tank tank = cellar();
    for (int week = 0; week < 6; ++week)
      test_at(tank, 7.0 * week, measured(420.0 + (week % 2 == 0 ? scatter : -scatter), 1.0));
    return estimated_consumption(tank, ca)->consumption.standard_uncertainty;
  };
  EXPECT_DOUBLE_EQ(uncertainty(0.1), uncertainty(0.0));
  EXPECT_GT(uncertainty(10.0), 9.0 * uncertainty(0.0));
}

TEST(Consumption, SetByTheKeeperStandsInPlaceOfAnEstimate) {
  Tank tank = cellar();
  test_at(tank, 0.0, measured(420.0, 3.0));
  test_at(tank, 10.0, measured(406.0, 4.0));
  tank.consumption[ca] = {Kinetics::Proportional, 0.01, 0.001};
  EXPECT_EQ(consumption_of(tank, ca), tank.consumption[ca]);
}

TEST(ContentNow, FollowsTheConsumptionAndTheChangesSinceTheLatestTest) {
  Tank tank = cellar();
  tank.consumption[ca] = {Kinetics::ConstantRate, 2.0, 0.5};
  test_at(tank, 0.0, measured(420.0, 5.0));
  change_at(tank, -1.0, Litres(250.0), measured(0.0, 0.0));  // is in the test already
  change_at(tank, 0.0, Litres(250.0), measured(0.0, 0.0));
  change_at(tank, 5.0, Litres(100.0), measured(440.0, 10.0));
  change_at(tank, 20.0, Litres(250.0), measured(0.0, 0.0));  // has not been made yet
  const auto now = content_now(tank, ca, day(10.0));
  ASSERT_TRUE(now);
  EXPECT_NEAR(now->content.middle(), 406.0, 1e-9);
  EXPECT_NEAR(now->content.standard_uncertainty, std::hypot(0.8 * 5.0, 0.2 * 10.0, 9.0 * 0.5),
              1e-9);
  // The content is the lower the greater the consumption has been.
  EXPECT_NEAR(now->consumption.correlation, -9.0 * 0.5 / now->content.standard_uncertainty, 1e-9);
  EXPECT_FALSE(content_now(tank, Analyte::Iron, day(10.0)));
}

TEST(ContentNow, CountsAChangeByTheSaltItBrought) {
  Tank tank = cellar();
  test_at(tank, 0.0, measured(410.0, 0.0));
  // Half of the water at half of the salinity: a third of the salt.
  change_at(tank, 1.0, Litres(250.0), measured(440.0, 0.0), 17.5);
  EXPECT_NEAR(content_now(tank, ca, day(1.0))->content.middle(), 420.0, 1e-9);
  // Fresh water brings none, and what evaporates takes none.
  change_at(tank, 2.0, Litres(500.0), measured(440.0, 0.0), 0.0);
  EXPECT_NEAR(content_now(tank, ca, day(2.0))->content.middle(), 420.0, 1e-9);
}

TEST(ContentNow, IsNotKnownAfterAChangeThatIsNot) {
  Tank tank = cellar();
  test_at(tank, 0.0, measured(420.0, 5.0));
  change_at(tank, 5.0, Litres(100.0), std::nullopt);
  EXPECT_TRUE(content_now(tank, ca, day(4.0)));
  EXPECT_FALSE(content_now(tank, ca, day(6.0)));
}

TEST(ContentNow, KeepsBothExtremesOfWhatWasBelowDetection) {
  Tank tank = cellar();
  tank.consumption[ca] = {Kinetics::ConstantRate, 0.1, 0.0};
  test_at(tank, 0.0, below(2.0));
  change_at(tank, 10.0, Litres(250.0), CensoredValue{4.0, 6.0, 0.0});
  const auto now = content_now(tank, ca, day(10.0));
  EXPECT_NEAR(now->content.low, 2.0, 1e-9);   // of nothing, nothing is used
  EXPECT_NEAR(now->content.high, 3.5, 1e-9);  // 2 - 1, half of it replaced by 6
}

// Foretold over a further time, the errors that a test put into content and consumption at once
// must count as one.
TEST(ContentNow, ForetellsAsUncertainAsTheCourseFromTheTestItself) {
  Tank tank = cellar();
  test_at(tank, 0.0, measured(420.0, 5.0));
  test_at(tank, 10.0, measured(400.0, 4.0));
  const auto now = content_now(tank, ca, day(15.0));
  ChangePlan plan;
  plan.interval = 5 * 24h;
  const auto foretold =
      after_changes(now->content, measured(440.0, 0.0), now->consumption, plan).before;
  const auto straight = content_now(tank, ca, day(20.0));
  EXPECT_NEAR(foretold.middle(), straight->content.middle(), 1e-9);
  EXPECT_NEAR(foretold.standard_uncertainty, straight->content.standard_uncertainty, 1e-9);
  // 2 y2 - y1
  EXPECT_NEAR(straight->content.standard_uncertainty, std::hypot(2.0 * 4.0, 5.0), 1e-9);
}

TEST(Outcome, HoldsTheLatestTestAgainstWhatWasForetold) {
  Tank tank = cellar();
  tank.consumption[ca] = {Kinetics::ConstantRate, 2.0, 0.0};
  test_at(tank, 0.0, measured(420.0, 5.0));
  change_at(tank, 5.0, Litres(100.0), measured(440.0, 0.0));
  test_at(tank, 10.0, measured(396.0, 3.0));
  const auto outcomes = outcomes_of_latest_test(tank);
  ASSERT_EQ(outcomes.size(), 1u);
  EXPECT_EQ(outcomes[0].analyte, ca);
  EXPECT_DOUBLE_EQ(outcomes[0].before.middle(), 420.0);
  EXPECT_NEAR(outcomes[0].foretold.middle(), 406.0, 1e-9);
  EXPECT_DOUBLE_EQ(outcomes[0].measured.middle(), 396.0);
  EXPECT_NEAR(outcomes[0].score, -10.0 / std::hypot(0.8 * 5.0, 3.0), 1e-9);
  EXPECT_EQ(outcomes[0].consumption_before, tank.consumption[ca]);
  ASSERT_TRUE(outcomes[0].consumption_after);
  EXPECT_NEAR(outcomes[0].consumption_after->per_day, 28.0 / 9.0, 1e-9);
}

TEST(Outcome, OfAFirstTestThereIsNone) {
  Tank tank = cellar();
  EXPECT_TRUE(outcomes_of_latest_test(tank).empty());
  test_at(tank, 0.0, measured(420.0, 5.0));
  EXPECT_TRUE(outcomes_of_latest_test(tank).empty());
}

// A tank that lives: water evaporates and is replaced, changes have other salinities than the tank,
// analyses of lots and tests err as they state.
class LivingTank {
 public:
  explicit LivingTank(std::mt19937_64& random) : random_(&random) {
    rate = uniform(-1.0, 4.0);
    truth_ = uniform(380.0, 460.0);
    const double lot = uniform(400.0, 460.0);
    const double lot_uncertainty = uniform(0.0, 8.0);
    stated_lot_ = measured(lot + lot_uncertainty * normal(), lot_uncertainty);
    true_lot_ = lot;
    const int tests = std::uniform_int_distribution<>(3, 8)(random);
    test();
    for (int i = 1; i < tests; ++i) {
      for (int changes = std::uniform_int_distribution<>(0, 3)(random); changes > 0; --changes) {
        live(uniform(1.0, 10.0));
        change();
      }
      live(uniform(2.0, 10.0));
      test();
    }
  }

  Tank tank = cellar();
  double rate = 0.0;  // a day

 private:
  double uniform(double low, double high) {
    return std::uniform_real_distribution<>(low, high)(*random_);
  }
  double normal() { return std::normal_distribution<>()(*random_); }
  void live(double days) {
    now_ += days;
    truth_ -= rate * days;
  }
  void change() {
    const double fraction = uniform(0.05, 0.3);
    const double salinity = uniform(33.0, 36.0);
    change_at(tank, now_, fraction * tank.volume, stated_lot_, salinity);
    const double content = (1.0 - fraction) * truth_ + fraction * true_lot_ * salinity / 35.0;
    truth_ = content * 35.0 / ((1.0 - fraction) * 35.0 + fraction * salinity);
  }
  void test() {
    const double salinity = uniform(33.0, 37.0);
    const double uncertainty = uniform(2.0, 10.0);
    test_at(tank, now_, measured(truth_ * salinity / 35.0 + uncertainty * normal(), uncertainty),
            salinity);
  }

  std::mt19937_64* random_;
  double now_ = 0.0;
  double truth_ = 0.0;
  double true_lot_ = 0.0;
  CensoredValue stated_lot_;
};

TEST(Consumption, IsRecoveredFromSimulatedTanksWithinItsStatedUncertainty) {
  std::mt19937_64 random(20261125);
  constexpr int tanks = 1000;
  int covered = 0;
  int agreed = 0;
  double ratio = 0.0;
  for (int i = 0; i < tanks; ++i) {
    const LivingTank living(random);
    const auto estimate = estimated_consumption(living.tank, ca);
    ASSERT_TRUE(estimate);
    EXPECT_EQ(estimate->tests, static_cast<int>(living.tank.tests.size()));
    const double error = estimate->consumption.per_day - living.rate;
    covered += std::abs(error) <= 1.96 * estimate->consumption.standard_uncertainty ? 1 : 0;
    ratio += error / estimate->consumption.standard_uncertainty;
    agreed += std::abs(outcomes_of_latest_test(living.tank).at(0).score) <= 1.96 ? 1 : 0;
  }
  EXPECT_GT(covered, 0.93 * tanks);
  EXPECT_LT(covered, 0.985 * tanks);
  EXPECT_LT(std::abs(ratio / tanks), 0.1);
  EXPECT_GT(agreed, 0.93 * tanks);
  EXPECT_LT(agreed, 0.985 * tanks);
}

}  // namespace
}  // namespace brinegate
