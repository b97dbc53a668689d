// SPDX-License-Identifier: Apache-2.0
// Whether an analysis can be true: the charges of its ions must balance, its ions must add up to
// its salinity, and no value may be such as only a slip makes it.
//
// Sources: Standard Methods for the Examination of Water and Wastewater, 1030 E (charge balance:
// difference over sum of cations and anions, within ±5 % for waters of this strength); Millero et
// al. 2008 (Reference Composition: the ions that make up reference salinity).
#pragma once

#include <optional>
#include <vector>

#include "rules/chemistry/assay.h"

namespace brinegate {

enum class AssayFindingKind {
  ChargesDoNotBalance,  // measured, needed: difference over sum, and its limit
  SalinityDoesNotFit,   // measured, needed: implied and stated salinity, g/kg
  Impossible,           // more than the water can hold, or than all of its salt
  UnitSlip,             // off by a power of 1000: `factor` brings it where sea water has it
  BelongsToAnother,     // it is what sea water has of `other`, and `other` has what this should
  ProbablyAnotherForm,  // `factor`: given as the ion, oxide or salt instead of the element
  FarFromSeaWater,      // more than a salt mix has ever reason to be: measured over natural
};

struct AssayFinding {
  AssayFindingKind kind = AssayFindingKind::Impossible;
  std::optional<Analyte> analyte;
  std::optional<Analyte> other;
  double measured = 0.0;  // in the analyte's unit at the sample's salinity, unless said
  double needed = 0.0;
  double factor = 1.0;
};

struct AssaySanity {
  // Where sodium, magnesium, calcium, potassium, sulfur and alkalinity are given. Without chlorine
  // its content is inferred from the balance, which then says nothing of its own.
  std::optional<double> cations;            // mmol/kg of charge
  std::optional<double> anions;             // mmol/kg of charge
  std::optional<double> charge_balance;     // (cations - anions) / (cations + anions)
  std::optional<double> inferred_chlorine;  // content
  // The sum of the ions as reference salinity, g/kg; also where chlorine is inferred.
  std::optional<ReferenceSalinity> implied_salinity;
  std::vector<AssayFinding> findings;  // worst first
};

AssaySanity assay_sanity(const Assay& assay);

}  // namespace brinegate
