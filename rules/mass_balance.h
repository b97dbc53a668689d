// SPDX-License-Identifier: Apache-2.0
// Salt and water mass balance: what to weigh in, what a batch must come to, how to correct it.
// Everything at one temperature; water and salt of hydration are conserved; vessel expansion is
// ignored. Salinity balance in reference salinity (g/kg), volumes through density().
#pragma once

#include <vector>

#include "rules/result.h"
#include "rules/units.h"

namespace brinegate {

// Water in the reservoir: how much, how salty.
struct Water {
  Litres volume;
  PracticalSalinity salinity;
};

// Dry product: what share of its mass is anhydrous sea salt. The rest is moisture and water of
// hydration and counts as water.
struct SaltProduct {
  double dry_fraction = 0.93;  // range (0.2, 1]; common practice, no source: 0.85 to 1
  // Relative standard uncertainty; common practice, no source.
  double dry_fraction_uncertainty = 0.02;
  bool learned = false;  // from proven batches of the lot: it leans on the cells that proved them
};

struct Dose {
  Grams salt;           // product to weigh in
  Litres water;         // fresh water to add
  Litres volume_after;  // what the reservoir holds then
};

// Salt for fresh water poured onto what is left of the last batch (`rest` may be empty).
// Error if the target is not reachable with this product, or lies below what dilution gives.
Result<Dose> dose_for_water(Litres water, Water rest, PracticalSalinity target, SaltProduct salt,
                            Celsius temperature);
// Salt and water to end at exactly this volume, on top of `rest`. Error if `rest` holds too much
// salt or water for that.
Result<Dose> dose_for_volume(Litres volume_after, Water rest, PracticalSalinity target,
                             SaltProduct salt, Celsius temperature);

// What salt and fresh water added to `rest` come to. Amounts below zero (a level probe's noise at
// the bottom) count as none; nothing at all comes to 0 L at SP 0.
Water mixed(Water rest, Litres water, Grams salt, SaltProduct product, Celsius temperature);

// What two waters poured together come to.
Water blended(Water a, Water b, Celsius temperature);

enum class CorrectionAction { AddSalt, AddWater, ReplaceWithWater };

struct Correction {
  CorrectionAction action = CorrectionAction::AddSalt;
  Grams salt;     // product to add
  Litres water;   // fresh water to add
  Litres remove;  // to take out first
  Water after;
  PracticalSalinity standard_uncertainty;  // of after.salinity
  bool fits = false;                       // after.volume within the capacity
};

// Standard uncertainties of what is in the reservoir.
struct WaterUncertainty {
  Litres volume;
  PracticalSalinity salinity;
};

// Every way from `batch` to `target`, those that fit first. Empty when already there (within 1e-9).
// Too weak: AddSalt, and where that overflows, AddSalt after taking out what makes it end full.
// Too strong: AddWater, and ReplaceWithWater ending at the present volume (at most the capacity).
// Where each lands is as sure as what it starts from and the product's yield are: their parts by
// numerical sensitivities, combined as independent (JCGM 100, 5.1.2).
Result<std::vector<Correction>> corrections(Water batch, PracticalSalinity target, Litres capacity,
                                            SaltProduct salt, Celsius temperature,
                                            WaterUncertainty uncertainty = {});

}  // namespace brinegate
