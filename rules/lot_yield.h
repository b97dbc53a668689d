// SPDX-License-Identifier: Apache-2.0
// What a lot of salt yields, learned from the keeper's own proven batches: how much anhydrous sea
// salt its product brings, and how sure that is.
//
// Each proven batch is one observation: its salinity times its volume is the salt that its grams
// brought. Two kinds of error are in it, and only one averages out over batches:
// - weighing in is done afresh each time, and what the product has drawn from the air since: these
//   differ from batch to batch, so the mean of many batches knows them better;
// - the cells, their temperature, the salt's factor and the level probe (or the keeper's own mark
//   for litres) are the same each time: they shift every batch alike, so that any number of batches
//   is never surer than one is of these (fully correlated terms add linearly, JCGM 100 5.2.2).
// How batches differ among themselves beyond weighing is estimated by moments (DerSimonian and
// Kacker 2007, Contemp. Clin. Trials 28:105) and counts in full for the next batch. One batch says
// nothing of it and few say little: 1 % is taken at first and weighs as much as two batches (common
// practice, no source). The mean is weighed against what was taken for the lot before.
#pragma once

#include <optional>

#include "rules/batch.h"
#include "rules/station_spec.h"

namespace brinegate {

struct YieldObservation {
  double dry_fraction = 0.0;
  double own_uncertainty = 0.0;     // standard; of this batch alone
  double shared_uncertainty = 0.0;  // standard; the same in every batch
};

// What the proof of a batch says. Nothing where it has none, or no salt, or no volume.
std::optional<YieldObservation> observed_yield(const Batch& batch, const StationSpec& station);

// Sums over the batches so far, with weights w = 1 / (own² + shared²); recursive, so that a lot is
// a few numbers however many batches it made (weighted mean and squares: West 1979, CACM 22:532).
struct LotYield {
  double prior = 0.0;              // dry fraction taken before the first batch
  double prior_uncertainty = 0.0;  // standard
  int batches = 0;
  double mean = 0.0;                // weighted
  double shared_uncertainty = 0.0;  // weighted mean
  double squares = 0.0;             // sum of w (dry fraction - mean)²
  double weights = 0.0;             // sum of w
  double weights_squared = 0.0;     // sum of w²
  double own = 0.0;                 // sum of w own²
  double own_weighted = 0.0;        // sum of w² own²
};

// `before` is what is known so far; where that is nothing, `used` is what was taken for the lot.
LotYield learned(const std::optional<LotYield>& before, const SaltProduct& used,
                 const YieldObservation& observation);

// Standard deviation of the dry fraction from batch to batch, beyond weighing.
double spread_between_batches(const LotYield& lot);

// What to take for the lot next time.
SaltProduct product_of(const LotYield& lot);

// Product for one litre of finished water, g; 25 °C.
double grams_per_litre_for(PracticalSalinity target, const SaltProduct& product);

}  // namespace brinegate
