// SPDX-License-Identifier: Apache-2.0
// From readings to one salinity and how sure it is; nothing is averaged away.
#include "rules/salinity_estimate.h"

#include <cmath>

#include <gtest/gtest.h>

#include "rules/seawater.h"

namespace brinegate {
namespace {

// Two cells that take their temperature from one thermometer.
class Estimating : public testing::Test {
 protected:
  Estimating() {
    for (const Measures measures :
         {Measures::Temperature, Measures::Conductivity, Measures::Conductivity}) {
      ProbeSpec& probe = probes.emplace_back();
      probe.measures = measures;
      probe.uncertainty = default_probe_uncertainty(measures);
      if (measures == Measures::Conductivity)
        probe.temperature_from = 0;
    }
    see(0, 25.0);
    see(1, at_35);
    see(2, at_35);
  }
  void see(std::size_t probe, double value) {
    readings.resize(probes.size());
    readings[probe] = Reading::good(value, {}, false);
  }
  [[nodiscard]] SalinityEstimate estimate() const { return estimate_salinity(probes, readings); }

  const double at_35 = conductivity(PracticalSalinity(35.0), Celsius(25.0)).value();
  std::vector<ProbeSpec> probes;
  std::vector<Reading> readings;
};

TEST_F(Estimating, FindsTheSalinityOfAgreeingCells) {
  const SalinityEstimate e = estimate();
  ASSERT_TRUE(e.complete && e.value);
  EXPECT_NEAR(e.value->value(), 35.0, 1e-9);
  EXPECT_FALSE(e.disagreeing);
}

TEST_F(Estimating, NamesCellsThatDisagree) {
  see(2, at_35 + 3.0);
  const SalinityEstimate e = estimate();
  ASSERT_TRUE(e.disagreeing);
  EXPECT_EQ(*e.disagreeing, std::pair(std::size_t{1}, std::size_t{2}));
  EXPECT_GT(e.largest_difference, e.allowed_difference);
}

TEST_F(Estimating, HasNoValueWhereOneCellHasNone) {
  readings[2] = Reading::bad(QualityReason::Stale);
  EXPECT_FALSE(estimate().complete);
  EXPECT_FALSE(estimate().value);
  EXPECT_EQ(estimate().cells.size(), 1U);
}

TEST_F(Estimating, HasNoValueWithoutTheTemperature) {
  readings[0] = Reading::uncertain(25.0, QualityReason::RateOfChange, {}, false);
  EXPECT_FALSE(estimate().value);
}

TEST_F(Estimating, KnowsLessTheFurtherItIsBeyondTheEndOfTheEquation) {
  for (const auto& [psu, wide] : {std::pair(41.0, 0.0), {42.0, 0.0}, {43.0, 0.1}, {48.0, 0.6}}) {
    for (const std::size_t cell : {1U, 2U})
      see(cell, conductivity(PracticalSalinity(psu), Celsius(25.0)).value());
    const SalinityEstimate e = estimate();
    ASSERT_TRUE(e.value);
    EXPECT_NEAR(e.value->value(), psu, 1e-6);
    EXPECT_NEAR(e.budget.extrapolation, wide, 1e-6);
    EXPECT_GE(e.systematic_uncertainty, wide);
    EXPECT_FALSE(e.disagreeing);
  }
  // What the equation is wrong by, two cells share.
  see(1, conductivity(PracticalSalinity(44.0), Celsius(25.0)).value());
  EXPECT_TRUE(estimate().disagreeing);
}

TEST_F(Estimating, GivesNoValueOfWaterTooColdOrTooWarmForTheEquation) {
  for (const double celsius : {-2.5, 36.0}) {
    see(0, celsius);
    EXPECT_FALSE(estimate().value) << celsius;
  }
}

TEST_F(Estimating, AsksForACell) {
  probes.resize(1);
  readings.resize(1);
  EXPECT_FALSE(estimate().complete);
  EXPECT_FALSE(estimate().value);
}

// A second cell makes each cell's own error smaller, never that of what they share.
TEST_F(Estimating, DoesNotCountTheSharedThermometerTwice) {
  for (ProbeSpec& probe : probes)
    probe.uncertainty = probe.measures == Measures::Temperature ? ProbeUncertainty{0.5, 0.0}
                                                                : ProbeUncertainty{0.001, 0.0};
  const double with_two = estimate().standard_uncertainty;
  probes.pop_back();
  readings.pop_back();
  const double with_one = estimate().standard_uncertainty;
  EXPECT_NEAR(with_two, with_one, 0.001);
  // 0.5 °C is 0.34 PSU: half the difference of salinities half a degree to either side.
  const double by_temperature =
      0.5 * std::abs((practical_salinity(MilliSiemensPerCm(at_35), Celsius(24.5)) -
                      practical_salinity(MilliSiemensPerCm(at_35), Celsius(25.5)))
                         .value());
  const double by_salt = salt_factor_half_width / std::sqrt(3.0) * 35.0;
  EXPECT_NEAR(with_one, std::hypot(by_temperature, by_salt), 0.002);
}

TEST_F(Estimating, GrowsLessSureWithEveryDaySinceTheCalibration) {
  probes[1].drift_per_day = {0.0, 0.0001};
  std::vector<ProbeCondition> conditions(3);
  const auto u = [&](double days) {
    conditions[1].days_since_calibration = days;
    return estimate_salinity(probes, readings, conditions).cells[0].budget;
  };
  EXPECT_EQ(u(0.0).drift, 0.0);
  // 1 % in 100 days: half the difference of salinities of 1 % more and less conductivity.
  const auto salinity = [&](double share) {
    return practical_salinity(MilliSiemensPerCm(share * at_35), Celsius(25.0)).value();
  };
  EXPECT_NEAR(u(100.0).drift, 0.5 * (salinity(1.01) - salinity(0.99)), 1e-4);
  EXPECT_NEAR(u(200.0).drift, 2.0 * u(100.0).drift, 1e-9);
  EXPECT_EQ(u(100.0).calibration, u(0.0).calibration);
}

// JCGM 100, F.2.2.1: a step q of a reading has the standard uncertainty q / sqrt(12).
TEST_F(Estimating, CountsTheCoarserOfStatedAndSeenStepsAsARectangle) {
  std::vector<ProbeCondition> conditions(3);
  const auto resolution = [&] {
    return estimate_salinity(probes, readings, conditions).cells[0].budget.resolution;
  };
  const double per_unit =
      salinity_sensitivity(MilliSiemensPerCm(at_35), Celsius(25.0)).per_millisiemens_per_cm;
  EXPECT_EQ(resolution(), 0.0);
  probes[1].resolution = 0.1;
  EXPECT_NEAR(resolution(), per_unit * 0.1 / std::sqrt(12.0), 1e-9);
  conditions[1].resolution = 0.5;
  EXPECT_NEAR(resolution(), per_unit * 0.5 / std::sqrt(12.0), 1e-9);
  conditions[1].resolution = 0.01;
  EXPECT_NEAR(resolution(), per_unit * 0.1 / std::sqrt(12.0), 1e-9);
}

TEST_F(Estimating, KeepsTheNoiseApartFromWhatNoAveragingTakesAway) {
  const double quiet = estimate().systematic_uncertainty;
  EXPECT_DOUBLE_EQ(quiet, estimate().standard_uncertainty);
  const std::vector<ProbeCondition> noisy{{0.0, 0.2, 0.0}, {0.0, 0.5, 0.0}, {0.0, 0.5, 0.0}};
  const auto e = estimate_salinity(probes, readings, noisy);
  EXPECT_DOUBLE_EQ(e.systematic_uncertainty, quiet);
  EXPECT_GT(e.budget.noise, 0.2);
  EXPECT_NEAR(e.standard_uncertainty, std::hypot(quiet, e.budget.noise), 1e-12);
}

TEST_F(Estimating, AppliesTheMeasuredFactorOfTheLotToWhatConductivityImplies) {
  const auto e = estimate_salinity(probes, readings, {}, {1.01, 0.002});
  EXPECT_NEAR(e.value->value(), 35.35, 1e-6);
  EXPECT_NEAR(e.budget.salt_factor, 35.0 * 0.002, 1e-6);
  probes.resize(1);
  probes[0] = {};
  probes[0].measures = Measures::SpecificGravity;
  readings = {Reading::good(specific_gravity(PracticalSalinity(35.0), {}), {}, false)};
  const auto hydrometer = estimate_salinity(probes, readings, {}, {1.01, 0.002});
  EXPECT_NEAR(hydrometer.value->value(), 35.0, 1e-6);
  EXPECT_EQ(hydrometer.budget.salt_factor, 0.0);
}

// A hydrometer that tells 35 beside a cell that tells 34.3: within what an unmeasured lot allows,
// not with a lot whose factor was measured.
TEST_F(Estimating, AllowsACellToDifferFromAHydrometerByTheSaltFactor) {
  probes.resize(2);
  probes[1].uncertainty = {0.0, 0.002};
  ProbeSpec hydrometer;
  hydrometer.measures = Measures::SpecificGravity;
  hydrometer.uncertainty = {0.0001, 0.0};
  probes.push_back(hydrometer);
  see(1, conductivity(PracticalSalinity(34.4), Celsius(25.0)).value());
  see(2, specific_gravity(PracticalSalinity(35.0), {}));
  EXPECT_FALSE(estimate_salinity(probes, readings).disagreeing);
  EXPECT_TRUE(estimate_salinity(probes, readings, {}, {1.0, 0.001}).disagreeing);
}

TEST_F(Estimating, UndoesTheCompensationOfAProbe) {
  LinearCompensation compensation;
  probes[1].measures = Measures::CompensatedConductivity;
  probes[1].compensation = compensation;
  see(0, 20.0);
  const MilliSiemensPerCm in_situ = conductivity(PracticalSalinity(35.0), Celsius(20.0));
  see(1, compensated(in_situ, Celsius(20.0), compensation).value());
  see(2, in_situ.value());
  EXPECT_NEAR(estimate().value->value(), 35.0, 1e-6);
}

TEST_F(Estimating, IsSimulatedWhereAnyPartOfItIs) {
  EXPECT_FALSE(estimate().simulated);
  readings[0] = Reading::good(25.0, {}, true);
  EXPECT_TRUE(estimate().simulated);
}

}  // namespace
}  // namespace brinegate
