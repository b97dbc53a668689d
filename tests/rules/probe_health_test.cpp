// SPDX-License-Identifier: Apache-2.0
// A cell followed from batch to batch: its drift, how sure that is, and when to calibrate it.
#include "rules/probe_health.h"

#include <cmath>
#include <random>

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include "tests/uniform.h"

namespace brinegate {
namespace {

using namespace std::chrono_literals;

constexpr WallTime calibrated_on(1'790'000'000s);

WallTime day(double days) {
  return calibrated_on + from_seconds(86400.0 * days);
}

HealthQuestion question(double today) {
  return {calibrated_on, day(today), 0.005, 0.0001, 0.0143};
}

HealthPoint against_dose(double days, double deviation, double own = 0.01, double common = 0.02) {
  return {day(days), HealthWitness::Dose, "batch-" + std::to_string(days), deviation, own, common};
}

TEST(ProbeHealth, WithoutComparisonsIsWhatWasStated) {
  const ProbeHealth health = probe_health({}, question(30.0));
  EXPECT_EQ(health.points, 0U);
  EXPECT_EQ(health.deviation, 0.0);
  EXPECT_NEAR(health.deviation_uncertainty, std::hypot(0.005, 0.003), 1e-12);
  EXPECT_NEAR(health.drift_uncertainty, 0.0001, 1e-12);
  EXPECT_FALSE(health.drifts);
  // 2 * 0.01 % a day reaches 1.43 % on the 72nd day.
  ASSERT_TRUE(health.calibrate_in);
  EXPECT_NEAR(seconds(*health.calibrate_in) / 86400.0, 42.0, 1.0);
}

// Two points by hand: with the other uncertainties out of the way, the line through them.
TEST(ProbeHealth, IsTheLineThroughItsPointsWhereNothingElseIsKnown) {
  HealthQuestion open = question(20.0);
  open.calibration_uncertainty = 1.0;
  open.stated_drift = 1.0;
  const std::vector<HealthPoint> points{against_dose(10.0, 0.01, 0.001, 0.0),
                                        against_dose(20.0, 0.03, 0.001, 0.0)};
  const ProbeHealth health = probe_health(points, open);
  EXPECT_NEAR(health.drift_per_day, 0.002, 1e-5);
  EXPECT_NEAR(health.drift_uncertainty, std::sqrt(2.0) * 0.001 / 10.0, 1e-6);
  EXPECT_NEAR(health.deviation, 0.03, 1e-5);
  EXPECT_TRUE(health.drifts);
}

TEST(ProbeHealth, SeesACellThatDrifts) {
  std::vector<HealthPoint> points;
  for (int i = 1; i <= 8; ++i)
    points.push_back(against_dose(7.0 * i, 0.0008 * 7.0 * i, 0.005));
  const ProbeHealth health = probe_health(points, question(56.0));
  EXPECT_TRUE(health.drifts);
  EXPECT_GT(health.drift_per_day, 0.0001);
  EXPECT_EQ(health.calibrate_in, Duration::zero());
}

TEST(ProbeHealth, AWitnessThatIsAlwaysWrongAlikeIsNoDrift) {
  std::vector<HealthPoint> points;
  for (int i = 1; i <= 10; ++i)
    points.push_back(against_dose(7.0 * i, 0.03));
  const ProbeHealth health = probe_health(points, question(70.0));
  EXPECT_FALSE(health.drifts);
  EXPECT_LT(std::abs(health.deviation), 0.006);
}

TEST(ProbeHealth, ForgetsWhatWasBeforeTheCalibrationAndTheStandardItself) {
  std::vector<HealthPoint> points{against_dose(-20.0, 0.05), against_dose(-10.0, 0.08)};
  points.push_back({calibrated_on, HealthWitness::Standard, "", 0.08, 0.002, 0.0});
  EXPECT_EQ(probe_health(points, question(1.0)).points, 0U);
  EXPECT_EQ(probe_health(points, question(1.0)).deviation, 0.0);
}

TEST(ProbeHealth, ComparisonsThatAgreePutTheCalibrationOff) {
  std::vector<HealthPoint> points;
  for (int i = 1; i <= 9; ++i)
    points.push_back(
        {day(7.0 * i), HealthWitness::OtherCell, std::to_string(i), 0.0, 0.001, 0.003});
  const auto without = probe_health({}, question(63.0)).calibrate_in;
  const auto with = probe_health(points, question(63.0)).calibrate_in;
  ASSERT_TRUE(without && with);
  EXPECT_GT(*with, *without);
}

TEST(ProbeHealth, AnInstrumentThatIsPoorWhenFreshIsNotDueForIt) {
  HealthQuestion poor = question(0.0);
  poor.calibration_uncertainty = 0.05;
  EXPECT_GT(probe_health({}, poor).calibrate_in, Duration::zero());
}

// Histories drawn as the question describes them: what is said of deviation and drift covers the
// truth as often as it says, and a cell that does not drift is called drifting seldom.
TEST(ProbeHealth, CoversTheTruthAsOftenAsItSays) {
  std::mt19937_64 random(20261125);
  std::normal_distribution<double> normal;
  constexpr int histories = 4000;
  int covered = 0;
  int drift_covered = 0;
  int false_drifts = 0;
  for (int h = 0; h < histories; ++h) {
    const bool still = h % 2 == 0;
    const double offset = 0.005 * normal(random);
    const double drift = still ? 0.0 : 0.0001 * normal(random);
    const double dose_error = normal(random);
    const double other_error = normal(random);
    std::vector<HealthPoint> points;
    for (int i = 1; i <= 8; ++i) {
      const double truth = offset + drift * 10.0 * i;
      points.push_back(against_dose(10.0 * i, truth + 0.02 * dose_error + 0.01 * normal(random)));
      points.push_back({day(10.0 * i), HealthWitness::OtherCell, std::to_string(i),
                        truth + 0.005 * other_error + 0.001 * normal(random), 0.001, 0.005});
    }
    const ProbeHealth health = probe_health(points, question(80.0));
    const double truth = offset + drift * 80.0;
    covered += std::abs(health.deviation - truth) <= 1.96 * health.deviation_uncertainty ? 1 : 0;
    drift_covered +=
        std::abs(health.drift_per_day - drift) <= 1.96 * health.drift_uncertainty ? 1 : 0;
    false_drifts += still && health.drifts ? 1 : 0;
  }
  EXPECT_GT(covered, 0.94 * histories);
  EXPECT_LT(covered, 0.99 * histories);
  EXPECT_GT(drift_covered, 0.94 * histories);
  EXPECT_LT(false_drifts, 0.05 * histories / 2.0);
}

RC_GTEST_PROP(ProbeHealthLine, IsFiniteAndNeverSurerThanNothing, ()) {
  std::vector<HealthPoint> points;
  for (int i = 0; i < 20; ++i)
    points.push_back({day(uniform(0.001, 300.0)),
                      uniform(0.0, 1.0) < 0.5 ? HealthWitness::Dose : HealthWitness::OtherCell, "",
                      uniform(-0.2, 0.2), uniform(0.0, 0.05), uniform(0.0, 0.05)});
  const double today = uniform(0.0, 1000.0);
  const ProbeHealth health = probe_health(points, question(today));
  RC_ASSERT(std::isfinite(health.deviation) && std::isfinite(health.drift_per_day));
  RC_ASSERT(health.deviation_uncertainty >= 0.0 && health.drift_uncertainty >= 0.0);
  RC_ASSERT(health.deviation_uncertainty <=
            probe_health({}, question(today)).deviation_uncertainty + 1e-9);
}

TEST(PointInStandard, IsHowFarTheCellWasOffBeforeItWasCalibrated) {
  ProbeSpec cell;
  cell.measures = Measures::Conductivity;
  Calibration before;
  before.slope = 1.02;
  Calibration after;
  after.at = calibrated_on;
  after.shown = 52.0;  // before any calibration
  after.standard = 53.065;
  const auto point = point_in_standard(cell, before, after);
  ASSERT_TRUE(point);
  // 53.04 beside 53.065 mS/cm: 0.047 % of conductivity, 1.125 times as much of salinity (PSS-78).
  EXPECT_NEAR(point->deviation, 1.125 * (52.0 * 1.02 / 53.065 - 1.0), 1e-5);
  EXPECT_EQ(point->at, calibrated_on);
  cell.measures = Measures::Temperature;
  EXPECT_FALSE(point_in_standard(cell, before, after));
}

TEST(PointInStandard, OfAHydrometerIsOfItsSalinity) {
  ProbeSpec hydrometer;
  hydrometer.measures = Measures::SpecificGravity;
  Calibration after;
  after.shown = specific_gravity(PracticalSalinity(35.7), {});
  after.standard = specific_gravity(PracticalSalinity(35.0), {});
  EXPECT_NEAR(point_in_standard(hydrometer, {}, after)->deviation, 0.02, 1e-6);
}

TEST(AddPoint, KeepsOneOfEachWitnessInEachBatchAndABoundedNumber) {
  std::vector<HealthPoint> points;
  add_point(points, against_dose(1.0, 0.01));
  add_point(points, against_dose(1.0, 0.02));
  ASSERT_EQ(points.size(), 1U);
  EXPECT_EQ(points[0].deviation, 0.02);
  for (int i = 0; i < 1000; ++i)
    add_point(points, against_dose(2.0 + i, 0.0));
  EXPECT_EQ(points.size(), 64U);
  EXPECT_EQ(points.back().at, day(1001.0));
}

}  // namespace
}  // namespace brinegate
