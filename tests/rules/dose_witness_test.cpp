// SPDX-License-Identifier: Apache-2.0
// The dose as a witness: what it predicts, how sure it is, and who must be wrong where it is
// contradicted.
#include "rules/dose_witness.h"

#include <algorithm>
#include <cmath>

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include "rules/seawater.h"
#include "tests/uniform.h"

namespace brinegate {
namespace {

const Celsius warm{25.0};

StationSpec station_with_level(ProbeUncertainty uncertainty = {0.5, 0.01}) {
  StationSpec station;
  station.capacity = Litres(200.0);
  ProbeSpec level;
  level.measures = Measures::Level;
  level.uncertainty = uncertainty;
  station.probes.push_back(level);
  return station;
}

// Begun with fresh water only: all of its salt was weighed in.
Batch salted(double grams, SaltProduct product = {}) {
  Batch batch;
  batch.phase = BatchPhase::Mixing;
  batch.product = product;
  batch.salt = Grams(grams);
  batch.salt_noted = true;
  batch.dry_salt = batch.salt * product.dry_fraction;
  return batch;
}

DoseWitness witness(const Batch& batch, double litres = 180.0) {
  return dose_witness(batch, Litres(litres), warm, station_with_level()).value();
}

Uncertain<PracticalSalinity> measured(double psu, double uncertainty = 0.25) {
  return {PracticalSalinity(psu), PracticalSalinity(uncertainty)};
}

double grams_for(double psu, double litres, double dry_fraction) {
  return litres * salt_grams_per_litre(PracticalSalinity(psu), warm) / dry_fraction;
}

const DoseExplanation& find(const std::vector<DoseExplanation>& all, DoseSuspect suspect) {
  return *std::find_if(all.begin(), all.end(),
                       [suspect](const DoseExplanation& e) { return e.suspect == suspect; });
}

TEST(DoseWitness, PredictsWhatTheGramsComeToInTheLitresOfTheLevel) {
  const DoseWitness dose = witness(salted(grams_for(35.0, 180.0, 0.93)));
  EXPECT_NEAR(dose.predicted.value.value(), 35.0, 1e-6);
  EXPECT_TRUE(dose.volume.by_level);
}

TEST(DoseWitness, PartsOfItsUncertaintyAreThoseOfWeightLevelAndYield) {
  const DoseWitness dose = witness(salted(grams_for(35.0, 180.0, 0.93)));
  // By hand: dlnS/dln(g/L) is 0.975 at 35 PSU (density grows by 0.075 % a PSU); 0.5 L and 1 % of
  // 180 L are 1.868 L.
  EXPECT_NEAR(dose.from_weight.value(), 0.975 * 35.0 * 0.01, 0.001);
  EXPECT_NEAR(dose.from_yield.value(), 0.975 * 35.0 * 0.02, 0.002);
  EXPECT_NEAR(dose.from_volume.value(), 0.975 * 35.0 * 1.868 / 180.0, 0.001);
  EXPECT_EQ(dose.from_rest.value(), 0.0);
  EXPECT_NEAR(dose.predicted.standard_uncertainty.value(), 0.8415, 0.001);
}

TEST(DoseWitness, IsNoneWithoutSaltNotedTemperatureOrWater) {
  const StationSpec station = station_with_level();
  Batch unnoted = salted(6000.0);
  unnoted.salt_noted = false;
  EXPECT_FALSE(dose_witness(unnoted, Litres(180.0), warm, station));
  EXPECT_FALSE(dose_witness(salted(6000.0), Litres(180.0), std::nullopt, station));
  EXPECT_FALSE(dose_witness(salted(6000.0), Litres(0.0), warm, station));
  EXPECT_FALSE(dose_witness(salted(6000.0), std::nullopt, warm, StationSpec{}))
      << "salt without water";
  Batch ended = salted(6000.0);
  ended.phase = BatchPhase::Empty;
  EXPECT_FALSE(dose_witness(ended, Litres(180.0), warm, station));
}

TEST(DoseWitness, WithoutALevelTheNotedLitresCountWithWhatTheSaltAdds) {
  Batch batch = salted(0.0);
  const auto dose =
      dose_for_water(Litres(150.0), {}, PracticalSalinity(35.0), batch.product, warm).value();
  batch.salt = dose.salt;
  batch.dry_salt = dose.salt * batch.product.dry_fraction;
  batch.water_noted = Litres(150.0);
  const auto found = dose_witness(batch, std::nullopt, warm, StationSpec{});
  ASSERT_TRUE(found);
  EXPECT_FALSE(found->volume.by_level);
  EXPECT_NEAR(found->volume.litres.value.value(), dose.volume_after.value(), 1e-9);
  EXPECT_NEAR(found->volume.litres.standard_uncertainty.value(), 0.02 * dose.volume_after.value(),
              1e-9);
  EXPECT_NEAR(found->predicted.value.value(), 35.0, 1e-6);
}

TEST(DoseWitness, TheRestOfTheLastBatchBringsItsOwnPartAndItsDependence) {
  Batch batch = salted(grams_for(35.0, 90.0, 0.93));
  batch.rest = Litres(90.0);
  batch.rest_salinity = PracticalSalinity(35.0);
  batch.dry_salt += Grams(90.0 * salt_grams_per_litre(PracticalSalinity(35.0), warm));
  const DoseWitness dose = witness(batch);
  EXPECT_NEAR(dose.predicted.value.value(), 35.0, 1e-6);
  EXPECT_NEAR(dose.from_rest.value(), 0.5 * 0.975 * 35.0 * 0.02, 0.002);
  EXPECT_NEAR(dose.from_weight.value(), 0.5 * 0.975 * 35.0 * 0.01, 0.001);
  EXPECT_FALSE(dose.independent) << "half of its salt was read by the cells";
  EXPECT_TRUE(witness(salted(6000.0)).independent);
}

TEST(DoseWitness, AgreesUpToTheDifferenceThatChanceBringsAtNinetyNinePercent) {
  const DoseWitness dose = witness(salted(grams_for(35.0, 180.0, 0.93)));
  const double allowed = 2.576 * std::hypot(dose.predicted.standard_uncertainty.value(), 0.25);
  EXPECT_NEAR(allowed_difference(dose, measured(35.0)).value(), allowed, 1e-9);
  EXPECT_TRUE(explanations(dose, measured(35.0 + 0.99 * allowed)).empty());
  EXPECT_TRUE(explanations(dose, measured(35.0 - 0.99 * allowed)).empty());
  EXPECT_EQ(explanations(dose, measured(35.0 + 1.01 * allowed)).size(), 4U);
  EXPECT_EQ(explanations(dose, measured(35.0 - 1.01 * allowed)).size(), 4U);
}

TEST(DoseWitness, AProductThatWouldHaveToBeMoreThanAllSaltExplainsNothing) {
  const DoseWitness dose = witness(salted(grams_for(35.0, 180.0, 0.95), {0.95}));
  const auto found = explanations(dose, measured(39.0));
  ASSERT_EQ(found.size(), 3U);
  for (const DoseExplanation& each : found)
    EXPECT_NE(each.suspect, DoseSuspect::Yield);
}

// Water that is 10 % stronger than the salt noted makes it.
TEST(DoseWitness, SaysInWhichDirectionEachWouldHaveToBeWrong) {
  const DoseWitness dose = witness(salted(grams_for(35.0, 180.0, 0.80), {0.80}));
  const auto found = explanations(dose, measured(39.0));
  ASSERT_EQ(found.size(), 4U);
  EXPECT_GT(find(found, DoseSuspect::Weight).amount, 0.0) << "more salt than noted";
  EXPECT_LT(find(found, DoseSuspect::Volume).amount, 0.0) << "less water than the level reads";
  EXPECT_GT(find(found, DoseSuspect::Yield).amount, 0.0) << "drier than taken";
  EXPECT_NEAR(find(found, DoseSuspect::Probe).amount, -4.0, 1e-6) << "less than the probe reads";
  EXPECT_NEAR(find(found, DoseSuspect::Probe).times_uncertainty, 16.0, 1e-4);
  EXPECT_EQ(found.front().suspect, DoseSuspect::Yield) << "the least sure of the four";
  EXPECT_EQ(found.back().suspect, DoseSuspect::Probe);
}

TEST(DoseWitness, APoorLevelProbeIsTheFirstSuspect) {
  const auto dose = dose_witness(salted(grams_for(35.0, 180.0, 0.93)), Litres(180.0), warm,
                                 station_with_level({9.0, 0.0}));
  EXPECT_EQ(explanations(*dose, measured(28.0)).front().suspect, DoseSuspect::Volume);
}

struct Case {
  StationSpec station = station_with_level({uniform(0.1, 3.0), uniform(0.0, 0.03)});
  double litres = uniform(20.0, 1000.0);
  double psu = uniform(20.0, 40.0);
  SaltProduct product{uniform(0.5, 1.0), uniform(0.003, 0.05)};
  Batch batch = salted(grams_for(psu, litres, product.dry_fraction), product);
  Uncertain<PracticalSalinity> read = measured(uniform(15.0, 45.0), uniform(0.05, 0.5));

  [[nodiscard]] DoseWitness dose() const {
    return dose_witness(batch, Litres(litres), warm, station).value();
  }
};

RC_GTEST_PROP(DoseWitnessProperty, WhatItSaysIsWrongAloneReconcilesTheTwo, ()) {
  Case c;
  // Some of the salt stems from a rest.
  c.batch.rest = Litres(c.litres * uniform(0.0, 0.5));
  c.batch.rest_salinity = PracticalSalinity(uniform(0.0, 40.0));
  const Grams of_rest(c.batch.rest.value() * salt_grams_per_litre(c.batch.rest_salinity, warm));
  c.batch.dry_salt += of_rest;
  for (const DoseExplanation& e : explanations(c.dose(), c.read)) {
    Case righted = c;
    double read = c.read.value.value();
    if (e.suspect == DoseSuspect::Weight)
      righted.batch.salt += Grams(e.amount);
    else if (e.suspect == DoseSuspect::Volume)
      righted.litres += e.amount;
    else if (e.suspect == DoseSuspect::Yield)
      righted.batch.product.dry_fraction += e.amount;
    else
      read += e.amount;
    righted.batch.dry_salt = righted.batch.salt * righted.batch.product.dry_fraction + of_rest;
    RC_ASSERT(std::abs(righted.dose().predicted.value.value() - read) < 1e-6);
    RC_ASSERT(e.relative * e.amount > 0.0);
    RC_ASSERT(righted.batch.product.dry_fraction <= 1.0 + 1e-12);
  }
}

RC_GTEST_PROP(DoseWitnessProperty, TheMostPlausibleStandsFirst, ()) {
  const Case c;
  const auto found = explanations(c.dose(), c.read);
  RC_ASSERT(std::is_sorted(found.begin(), found.end(), [](const auto& a, const auto& b) {
    return a.times_uncertainty < b.times_uncertainty;
  }));
}

RC_GTEST_PROP(DoseWitnessProperty, PartsAddUpToItsUncertainty, ()) {
  const DoseWitness dose = Case().dose();
  const double sum = std::hypot(std::hypot(dose.from_weight.value(), dose.from_volume.value()),
                                std::hypot(dose.from_yield.value(), dose.from_rest.value()));
  RC_ASSERT(std::abs(sum - dose.predicted.standard_uncertainty.value()) < 1e-12);
}

RC_GTEST_PROP(FusedProperty, IsSurerThanEitherAndBetweenThemWhereTheyAgree, ()) {
  const Case c;
  const DoseWitness dose = c.dose();
  const double apart = uniform(-0.99, 0.99) * allowed_difference(dose, c.read).value();
  const auto cells =
      measured(dose.predicted.value.value() + apart, c.read.standard_uncertainty.value());
  const auto both = fused(cells, dose);
  RC_ASSERT(both.standard_uncertainty < cells.standard_uncertainty);
  RC_ASSERT(both.standard_uncertainty < dose.predicted.standard_uncertainty);
  RC_ASSERT(both.value >= std::min(cells.value, dose.predicted.value));
  RC_ASSERT(both.value <= std::max(cells.value, dose.predicted.value));
  // The definition, written out.
  const double a = 1.0 / std::pow(cells.standard_uncertainty.value(), 2);
  const double b = 1.0 / std::pow(dose.predicted.standard_uncertainty.value(), 2);
  RC_ASSERT(std::abs(both.value.value() -
                     (a * cells.value.value() + b * dose.predicted.value.value()) / (a + b)) <
            1e-9);
  RC_ASSERT(std::abs(both.standard_uncertainty.value() - 1.0 / std::sqrt(a + b)) < 1e-12);
}

RC_GTEST_PROP(FusedProperty, IsTheCellsAloneWhereTheyDisagreeOrDependOnEachOther, ()) {
  Case c;
  const DoseWitness dose = c.dose();
  const double beyond = uniform(1.01, 3.0) * allowed_difference(dose, c.read).value();
  const auto cells = measured(dose.predicted.value.value() + beyond);
  const auto far = fused({cells.value, c.read.standard_uncertainty}, dose);
  RC_ASSERT(far.value == cells.value);
  RC_ASSERT(far.standard_uncertainty == c.read.standard_uncertainty);
  c.batch.product.learned = true;
  const auto near = fused(measured(c.psu), c.dose());
  RC_ASSERT(near.standard_uncertainty.value() == 0.25);
}

}  // namespace
}  // namespace brinegate
