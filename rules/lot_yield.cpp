// SPDX-License-Identifier: Apache-2.0
#include "rules/lot_yield.h"

#include <algorithm>
#include <cmath>

#include "rules/dose_witness.h"
#include "rules/seawater.h"
#include "rules/statistics.h"

namespace brinegate {
namespace {

constexpr double assumed_spread = 0.01;  // relative
constexpr double assumed_spread_weight = 2.0;

}  // namespace

std::optional<YieldObservation> observed_yield(const Batch& batch, const StationSpec& station) {
  if (!batch.proof || batch.salt <= Grams(0.0))
    return std::nullopt;
  const Proof& proof = *batch.proof;
  const auto volume = volume_of(batch, proof.volume, proof.temperature, station);
  if (!volume)
    return std::nullopt;
  const auto grams_per_litre = [&proof](PracticalSalinity salinity) {
    return salt_grams_per_litre(salinity, proof.temperature);
  };
  const double found = grams_per_litre(proof.salinity);
  const double more =
      grams_per_litre(proof.salinity + PracticalSalinity(proof.standard_uncertainty));
  const double litres = volume->litres.value.value();
  const double of_rest = batch.rest.value() * grams_per_litre(batch.rest_salinity);
  const double dry_fraction = (found * litres - of_rest) / batch.salt.value();
  if (!(dry_fraction > 0.0))
    return std::nullopt;
  const double of_cells = (more - found) / found;
  const double of_volume = volume->litres.standard_uncertainty / volume->litres.value;
  return YieldObservation{dry_fraction, dry_fraction * weighing_uncertainty,
                          dry_fraction * std::hypot(of_cells, of_volume)};
}

LotYield learned(const std::optional<LotYield>& before, const SaltProduct& used,
                 const YieldObservation& observation) {
  LotYield lot = before.value_or(LotYield{});
  if (!before) {
    lot.prior = used.dry_fraction;
    lot.prior_uncertainty = used.dry_fraction * used.dry_fraction_uncertainty;
  }
  const double own = squared(observation.own_uncertainty);
  const double weight = 1.0 / (own + squared(observation.shared_uncertainty));
  ++lot.batches;
  lot.weights += weight;
  lot.weights_squared += weight * weight;
  lot.own += weight * own;
  lot.own_weighted += weight * weight * own;
  const double share = weight / lot.weights;
  const double off = observation.dry_fraction - lot.mean;
  lot.mean += share * off;
  lot.squares += weight * off * (observation.dry_fraction - lot.mean);
  lot.shared_uncertainty += share * (observation.shared_uncertainty - lot.shared_uncertainty);
  return lot;
}

double spread_between_batches(const LotYield& lot) {
  const double assumed = squared(assumed_spread * lot.mean);
  if (lot.batches < 2)
    return std::sqrt(assumed);
  const double expected_of_weighing = lot.own - lot.own_weighted / lot.weights;
  const double per_variance = lot.weights - lot.weights_squared / lot.weights;
  const double seen = std::max(0.0, (lot.squares - expected_of_weighing) / per_variance);
  const double degrees_of_freedom = lot.batches - 1;
  return std::sqrt((assumed * assumed_spread_weight + seen * degrees_of_freedom) /
                   (assumed_spread_weight + degrees_of_freedom));
}

SaltProduct product_of(const LotYield& lot) {
  const double between = squared(spread_between_batches(lot));
  const double of_mean = squared(lot.shared_uncertainty) +
                         (lot.own_weighted + lot.weights_squared * between) / squared(lot.weights);
  const double of_prior = squared(lot.prior_uncertainty);
  const double trust = of_prior / (of_prior + of_mean);  // in the batches rather than in the prior
  SaltProduct product;
  product.dry_fraction = std::clamp(lot.prior + trust * (lot.mean - lot.prior), 0.21, 1.0);
  product.dry_fraction_uncertainty =
      std::sqrt(of_prior * (1.0 - trust) + between) / product.dry_fraction;
  product.learned = true;
  return product;
}

double grams_per_litre_for(PracticalSalinity target, const SaltProduct& product) {
  return salt_grams_per_litre(target, Celsius(25.0)) / product.dry_fraction;
}

}  // namespace brinegate
