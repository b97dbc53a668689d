// SPDX-License-Identifier: Apache-2.0
// The dose as a witness: what the salt weighed in must have come to in the water that is there, how
// sure that is, and what would have to be wrong where it is not what is measured.
#pragma once

#include <optional>
#include <vector>

#include "rules/batch.h"
#include "rules/station_spec.h"
#include "rules/units.h"

namespace brinegate {

// Relative standard uncertainties of weighing in and of litres that a person measured (common
// practice, no source).
constexpr double weighing_uncertainty = 0.01;
constexpr double noted_litres_uncertainty = 0.02;

// What the reservoir holds: by its level, else as noted, with what the salt itself adds.
struct BatchVolume {
  Uncertain<Litres> litres;
  bool by_level = false;
};
// Nothing where neither says that there is water.
std::optional<BatchVolume> volume_of(const Batch& batch, std::optional<Litres> level,
                                     Celsius temperature, const StationSpec& station);

struct DoseWitness {
  Uncertain<PracticalSalinity> predicted;
  // The parts of its standard uncertainty, combined as independent (JCGM 100, 5.1.2).
  PracticalSalinity from_weight;
  PracticalSalinity from_volume;
  PracticalSalinity from_yield;
  PracticalSalinity from_rest;  // what was left of the last batch, and how salty
  // Owes the cells next to nothing: the yield was not learned with them, and the salt of the rest,
  // whose salinity they read, is a small share.
  bool independent = false;

  // What it rests on.
  Grams salt;      // product noted
  Grams dry_salt;  // anhydrous, in the water now
  Grams dry_part;  // of that, what came with the product noted
  SaltProduct product;
  BatchVolume volume;
  Celsius temperature;
};

// Nothing where no salt was noted or the water is not known.
std::optional<DoseWitness> dose_witness(const Batch& batch, std::optional<Litres> level,
                                        std::optional<Celsius> temperature,
                                        const StationSpec& station);

// At most so far apart may the two be at 99 %. Generous where the dose leans on the cells.
PracticalSalinity allowed_difference(const DoseWitness& dose,
                                     const Uncertain<PracticalSalinity>& measured);

enum class DoseSuspect { Weight, Volume, Yield, Probe };

// What would have to be wrong alone, all else being as it was said.
struct DoseExplanation {
  DoseSuspect suspect = DoseSuspect::Weight;
  // The truth less what was noted, read or taken: g of product, L, dry fraction, PSU.
  double amount = 0.0;
  double relative = 0.0;           // of what was noted, read or taken
  double times_uncertainty = 0.0;  // |amount| in standard uncertainties; the smaller, the likelier
};

// Most plausible first; none where the two agree. A dry fraction above 1 explains nothing.
std::vector<DoseExplanation> explanations(const DoseWitness& dose,
                                          const Uncertain<PracticalSalinity>& measured);

// The two estimates in one where they agree: the mean weighted by 1/u², and its uncertainty by the
// propagation of independent ones (JCGM 100, 5.1.2). The cells' alone where the two do not agree,
// or where the dose owes something to the cells and would count it twice.
Uncertain<PracticalSalinity> fused(const Uncertain<PracticalSalinity>& cells,
                                   const DoseWitness& dose);

}  // namespace brinegate
