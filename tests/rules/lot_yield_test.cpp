// SPDX-License-Identifier: Apache-2.0
// What a lot yields, learned from proven batches: what averages out, what does not, and that the
// stated uncertainty is true.
#include "rules/lot_yield.h"

#include <algorithm>
#include <cmath>
#include <random>
#include <vector>

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include "rules/dose_witness.h"
#include "rules/seawater.h"
#include "tests/uniform.h"

namespace brinegate {
namespace {

const Celsius warm{25.0};

Batch proven_batch(double psu, double litres, double dry_fraction) {
  Batch batch;
  batch.phase = BatchPhase::Proven;
  batch.salt_noted = true;
  batch.salt = Grams(litres * salt_grams_per_litre(PracticalSalinity(psu), warm) / dry_fraction);
  batch.proof = Proof{PracticalSalinity(psu), 0.25, 0.001, warm, Litres(litres), {}, {}};
  return batch;
}

StationSpec station_with_level() {
  StationSpec station;
  ProbeSpec level;
  level.measures = Measures::Level;
  level.uncertainty = {0.5, 0.01};
  station.probes.push_back(level);
  return station;
}

LotYield learned_from(const std::vector<YieldObservation>& all, SaltProduct used = {}) {
  std::optional<LotYield> lot;
  for (const YieldObservation& each : all)
    lot = learned(lot, used, each);
  return lot.value();
}

double uncertainty_of(const SaltProduct& product) {
  return product.dry_fraction * product.dry_fraction_uncertainty;
}

TEST(LotYield, ABatchTellsWhatItsSaltBrought) {
  const auto seen = observed_yield(proven_batch(35.0, 180.0, 0.90), station_with_level());
  ASSERT_TRUE(seen);
  EXPECT_NEAR(seen->dry_fraction, 0.90, 1e-9);
  EXPECT_NEAR(seen->own_uncertainty, 0.009, 1e-6) << "weighing, 1 %";
  // The cells' 0.25 of 35 PSU and the level's 1.868 of 180 L: 0.72 % (of grams a litre 0.73 %) and
  // 1.04 %.
  EXPECT_NEAR(seen->shared_uncertainty, 0.90 * std::hypot(0.0073, 0.01038), 2e-5);
}

TEST(LotYield, TheSaltOfTheWaterItBeganWithIsNotTheLots) {
  Batch batch = proven_batch(35.0, 180.0, 0.90);
  batch.rest = Litres(175.0);
  batch.rest_salinity = PracticalSalinity(0.5);
  const double of_rest = 175.0 * salt_grams_per_litre(PracticalSalinity(0.5), warm);
  const auto seen = observed_yield(batch, station_with_level());
  EXPECT_NEAR(seen->dry_fraction, 0.90 - of_rest / batch.salt.value(), 1e-9);
}

TEST(LotYield, NothingIsSeenWithoutProofOrSaltOrVolume) {
  const StationSpec station = station_with_level();
  Batch unproven = proven_batch(35.0, 180.0, 0.9);
  unproven.proof.reset();
  EXPECT_FALSE(observed_yield(unproven, station));
  Batch unsalted = proven_batch(35.0, 180.0, 0.9);
  unsalted.salt = Grams(0.0);
  EXPECT_FALSE(observed_yield(unsalted, station));
  Batch somewhere = proven_batch(35.0, 180.0, 0.9);
  somewhere.proof->volume.reset();
  EXPECT_FALSE(observed_yield(somewhere, station));
}

TEST(LotYield, OneBatchMovesWhatWasTakenByItsWeightAgainstThat) {
  const LotYield lot = learned_from({{0.88, 0.01, 0.01}});
  // By hand: prior 0.93 ± 0.0186, batch 0.88 ± 0.01414.
  const double a = 1.0 / (0.0186 * 0.0186);
  const double between = 0.01 * 0.88;  // taken at first
  const double b = 1.0 / (2.0 * 0.01 * 0.01 + between * between);
  const SaltProduct product = product_of(lot);
  EXPECT_TRUE(product.learned);
  EXPECT_NEAR(product.dry_fraction, (a * 0.93 + b * 0.88) / (a + b), 1e-9);
  EXPECT_NEAR(uncertainty_of(product), std::sqrt(1.0 / (a + b) + between * between), 1e-9);
  EXPECT_NEAR(spread_between_batches(lot), between, 1e-12);
}

TEST(LotYield, WeighingAveragesOutAndTheCellsDoNot) {
  const std::vector<YieldObservation> many(10'000, {0.88, 0.01, 0.01});
  const SaltProduct product = product_of(learned_from(many));
  const double as_sure_as_the_cells =
      1.0 / std::sqrt(1.0 / (0.0186 * 0.0186) + 1.0 / (0.01 * 0.01));
  EXPECT_NEAR(uncertainty_of(product), as_sure_as_the_cells, 1e-5);
}

TEST(LotYield, ASurerBatchCountsMore) {
  const LotYield lot = learned_from({{0.90, 0.003, 0.004}, {0.86, 0.03, 0.04}});
  EXPECT_NEAR(lot.mean, 0.90 - 0.04 / 101.0, 1e-6) << "ten times as sure, a hundred times as heavy";
}

TEST(LotYield, BatchesThatDifferMoreThanWeighingExplainsStaySpreadForTheNext) {
  const LotYield lot = learned_from(
      {{0.86, 0.001, 0.001}, {0.90, 0.001, 0.001}, {0.88, 0.001, 0.001}, {0.92, 0.001, 0.001}});
  // Standard deviation of the four 0.0258, with 3 degrees of freedom, and 1 % of 0.89 with 2.
  const double between = std::sqrt((3.0 * 0.000667 + 2.0 * 0.0089 * 0.0089) / 5.0);
  EXPECT_NEAR(spread_between_batches(lot), between, 0.0002);
  EXPECT_GT(uncertainty_of(product_of(lot)), between);
}

TEST(LotYield, WhatIsKnownForCertainIsNotMoved) {
  const SaltProduct certain{0.95, 0.0};
  const SaltProduct product = product_of(learned_from({{0.90, 0.01, 0.01}}, certain));
  EXPECT_EQ(product.dry_fraction, 0.95);
}

TEST(LotYield, IsShownAsGramsALitre) {
  // 35 PSU at 25 °C: 35.16504 g/kg at 1023.343 kg/m3 (TEOS-10).
  EXPECT_NEAR(grams_per_litre_for(PracticalSalinity(35.0), {0.9}), 35.16504 * 1.023343 / 0.9,
              0.001);
}

RC_GTEST_PROP(LotYieldProperty, NoNumberOfBatchesIsSurerThanWhatOneSharesWithAllOthers, ()) {
  const double own = uniform(0.0, 0.03);
  const double shared = uniform(0.001, 0.03);
  const SaltProduct used{uniform(0.7, 0.99), uniform(0.001, 0.1)};
  const auto count = static_cast<std::size_t>(uniform(1.0, 300.0));
  std::vector<YieldObservation> all(count);
  for (YieldObservation& each : all)
    each = {uniform(0.85, 0.97), own, shared * uniform(1.0, 2.0)};
  const double prior = used.dry_fraction * used.dry_fraction_uncertainty;
  const double surest = 1.0 / std::sqrt(1.0 / (prior * prior) + 1.0 / (shared * shared));
  RC_ASSERT(uncertainty_of(product_of(learned_from(all, used))) >= surest * (1.0 - 1e-9));
}

RC_GTEST_PROP(LotYieldProperty, TheOrderOfBatchesDoesNotMatter, ()) {
  std::vector<YieldObservation> all(static_cast<std::size_t>(uniform(2.0, 20.0)));
  for (YieldObservation& each : all)
    each = {uniform(0.8, 1.0), uniform(0.002, 0.02), uniform(0.002, 0.02)};
  const SaltProduct forward = product_of(learned_from(all));
  std::reverse(all.begin(), all.end());
  const SaltProduct backward = product_of(learned_from(all));
  RC_ASSERT(std::abs(forward.dry_fraction - backward.dry_fraction) < 1e-9);
  RC_ASSERT(std::abs(uncertainty_of(forward) - uncertainty_of(backward)) < 1e-9);
}

// Lots, cells and batches drawn as the model says; the next batch's true dry fraction must lie
// within the stated interval as often as that says.
TEST(LotYield, ItsStatedUncertaintyIsTrue) {
  std::mt19937_64 random(20261125);
  std::normal_distribution<double> normal;
  constexpr double shared = 0.012;
  constexpr double between = 0.008;
  for (const int batches : {1, 3, 10, 40}) {
    int inside = 0;
    constexpr int lots = 4000;
    for (int i = 0; i < lots; ++i) {
      const double lot = 0.93 + 0.93 * 0.02 * normal(random);
      const double of_cells = shared * normal(random);
      std::vector<YieldObservation> all;
      for (int b = 0; b < batches; ++b) {
        const double own = 0.004 + 0.008 * (b % 3);
        all.push_back(
            {lot + between * normal(random) + of_cells + own * normal(random), own, shared});
      }
      const SaltProduct product = product_of(learned_from(all));
      const double next = lot + between * normal(random);
      inside += std::abs(next - product.dry_fraction) <= 1.96 * uncertainty_of(product) ? 1 : 0;
    }
    const double share = static_cast<double>(inside) / lots;
    EXPECT_GT(share, 0.925) << batches << " batches";
    EXPECT_LT(share, 0.975) << batches << " batches";
  }
}

}  // namespace
}  // namespace brinegate
