// SPDX-License-Identifier: Apache-2.0
// The uncertainty budget against propagation of distributions (JCGM 101): the true water is drawn
// with every error of the instruments, seen through PSS-78, and the spread of what is told must be
// what the budget says. What is true lies within the 95 % interval in 95 % of the draws.
#include <cmath>
#include <numbers>
#include <random>

#include <gtest/gtest.h>

#include "rules/salinity_estimate.h"
#include "rules/seawater.h"

namespace brinegate {
namespace {

constexpr int draws = 100'000;
constexpr double true_salinity = 35.0;
constexpr Celsius true_temperature{25.3};

// Errors of a probe that are the same for all its readings, and what it then shows.
class Instrument {
 public:
  Instrument(const ProbeSpec& probe, const ProbeCondition& condition)
      : probe_(&probe), condition_(&condition) {}

  double shows(double truth, std::mt19937_64& random) {
    std::normal_distribution<double> normal;
    const double calibration = standard_uncertainty(probe_->uncertainty, truth) * normal(random);
    const double drift = condition_->days_since_calibration *
                         standard_uncertainty(probe_->drift_per_day, truth) * normal(random);
    // The noise that was seen has the steps in it; what remains is the probe's own.
    const double step = probe_->resolution;
    const double noise =
        std::sqrt(std::max(0.0, condition_->noise * condition_->noise - step * step / 12.0));
    const double value = truth + calibration + drift + noise * normal(random);
    // Where the steps begin is any place.
    const double phase = step * std::uniform_real_distribution<double>(-0.5, 0.5)(random);
    return step > 0.0 ? std::round((value - phase) / step) * step + phase : value;
  }

 private:
  const ProbeSpec* probe_;
  const ProbeCondition* condition_;
};

class Drawing : public testing::Test {
 protected:
  Drawing() { add(Measures::Temperature, {0.1, 0.0}, {0.0003, 0.0}); }

  std::size_t add(Measures measures, ProbeUncertainty u, ProbeUncertainty drift) {
    ProbeSpec& probe = probes.emplace_back();
    probe.measures = measures;
    probe.uncertainty = u;
    probe.drift_per_day = drift;
    if (measures == Measures::Conductivity || measures == Measures::CompensatedConductivity)
      probe.temperature_from = 0;
    conditions.push_back({30.0, 0.0, 0.0});
    return probes.size() - 1;
  }
  std::size_t add_cell(Measures measures = Measures::Conductivity) {
    return add(measures, {0.02, 0.005}, {0.0, 0.0001});
  }
  [[nodiscard]] double truth_of(const ProbeSpec& probe, double lot) const {
    const MilliSiemensPerCm conducts =
        conductivity(PracticalSalinity(true_salinity / lot), true_temperature);
    switch (probe.measures) {
      case Measures::Conductivity:
        return conducts.value();
      case Measures::CompensatedConductivity:
        return compensated(conducts, true_temperature, probe.compensation).value();
      case Measures::Salinity:
        return true_salinity / lot;
      case Measures::SpecificGravity:
        return specific_gravity(PracticalSalinity(true_salinity), probe.gravity);
      default:
        return true_temperature.value();
    }
  }
  // Spread of what is told over the budget's, of single readings, and coverage of 95 % intervals.
  void expect_budget_holds() const {
    std::mt19937_64 random(20261125);
    double sum = 0.0;
    double squares = 0.0;
    double stated = 0.0;
    int covered = 0;
    std::vector<Reading> readings(probes.size());
    for (int i = 0; i < draws; ++i) {
      const double lot = salt_factor.value + salt_factor.standard_uncertainty * std::sqrt(3.0) *
                                                 std::uniform_real_distribution<>(-1, 1)(random);
      for (std::size_t p = 0; p < probes.size(); ++p)
        readings[p] = Reading::good(
            Instrument(probes[p], conditions[p]).shows(truth_of(probes[p], lot), random), {},
            false);
      const auto e = estimate_salinity(probes, readings, conditions, salt_factor);
      const double error = e.value.value().value() - true_salinity;
      sum += error;
      squares += error * error;
      stated += e.standard_uncertainty;
      covered += std::abs(error) <= 1.96 * e.standard_uncertainty ? 1 : 0;
    }
    const double bias = sum / draws;
    const double spread = std::sqrt(squares / draws - bias * bias);
    EXPECT_NEAR(spread / (stated / draws), 1.0, 0.015);
    EXPECT_LT(std::abs(bias), 0.02 * spread);
    // More than 95 % where the lot's rectangle, which has no tails, is most of it.
    EXPECT_GT(covered, 0.945 * draws);
    EXPECT_LT(covered, 0.97 * draws);
  }

  std::vector<ProbeSpec> probes;
  std::vector<ProbeCondition> conditions;
  SaltFactor salt_factor;
};

TEST_F(Drawing, OneCell) {
  add_cell();
  expect_budget_holds();
}

TEST_F(Drawing, TwoCellsOnOneThermometer) {
  add_cell();
  probes[add_cell()].uncertainty = {0.0, 0.003};
  probes[0].uncertainty = {0.4, 0.0};  // would show if it were counted twice or not at all
  expect_budget_holds();
}

TEST_F(Drawing, ACompensatedCell) {
  add_cell(Measures::CompensatedConductivity);
  probes[0].uncertainty = {0.3, 0.0};
  expect_budget_holds();
}

// The thermometer's error enters the two with different slopes.
TEST_F(Drawing, ACompensatedAndAPlainCellOnOneThermometer) {
  add_cell(Measures::CompensatedConductivity);
  add_cell();
  probes[0].uncertainty = {0.4, 0.0};
  expect_budget_holds();
}

TEST_F(Drawing, AHydrometerThatTheSaltFactorDoesNotTouch) {
  add(Measures::SpecificGravity, {0.0003, 0.0}, {0.000002, 0.0});
  salt_factor.standard_uncertainty = 0.02;
  expect_budget_holds();
}

TEST_F(Drawing, ACellAndAHydrometerShareNoSaltFactor) {
  add_cell();
  add(Measures::SpecificGravity, {0.0003, 0.0}, {0.000002, 0.0});
  salt_factor = {1.006, 0.006};
  expect_budget_holds();
}

TEST_F(Drawing, TwoCellsShareTheSaltFactor) {
  add_cell();
  add_cell();
  salt_factor = {0.994, 0.008};
  expect_budget_holds();
}

TEST_F(Drawing, AMeterOfSalinity) {
  add(Measures::Salinity, {0.3, 0.0}, {0.0, 0.0001});
  expect_budget_holds();
}

// Coarse steps without noise, steps and noise alike, and noise that is far wider than the steps.
TEST_F(Drawing, StepsAndNoise) {
  const std::size_t cell = add_cell();
  probes[cell].uncertainty = {0.0, 0.001};
  probes[cell].resolution = 0.5;
  salt_factor.standard_uncertainty = 0.0005;
  for (const double noise : {0.0, 0.3, 1.0}) {
    conditions[cell].noise = noise;
    expect_budget_holds();
  }
}

// What is left after averaging many readings is the systematic part: here a cell that counts in
// steps of half a mS/cm, with more or less noise to carry the value over them.
TEST_F(Drawing, TheMeanOfManyReadingsIsOffByTheSystematicPart) {
  const double step = 0.5;
  for (const double own_noise : {0.0, 0.1, 0.2, 0.4}) {
    std::mt19937_64 random(7);
    std::normal_distribution<double> normal(0.0, own_noise);
    double squares = 0.0;
    double seen_variance = 0.0;
    constexpr int waters = 400;
    constexpr int readings = 400;
    for (int w = 0; w < waters; ++w) {
      const double truth = 53.0 + step * w / waters;
      double sum = 0.0;
      double sum_squares = 0.0;
      for (int i = 0; i < readings; ++i) {
        const double error = std::round((truth + normal(random)) / step) * step - truth;
        sum += error;
        sum_squares += error * error;
      }
      const double mean = sum / readings;
      const double variance = sum_squares / readings - mean * mean;
      squares += mean * mean - variance / (readings - 1);
      seen_variance += variance;
    }
    ProbeSpec probe;
    probe.measures = Measures::Salinity;
    probe.resolution = step;
    const ProbeCondition condition{0.0, std::sqrt(seen_variance / waters), 0.0};
    const Reading reading = Reading::good(35.0, {}, false);
    const auto e = estimate_salinity({&probe, 1}, {&reading, 1}, {&condition, 1}, {1.0, 0.0});
    const double left = std::sqrt(std::max(0.0, squares / waters));
    EXPECT_GE(e.systematic_uncertainty, 0.9 * left - 0.004) << own_noise;
    EXPECT_LE(e.systematic_uncertainty, 1.7 * left + 0.004) << own_noise;
  }
}

}  // namespace
}  // namespace brinegate
