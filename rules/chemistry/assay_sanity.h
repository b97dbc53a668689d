// SPDX-License-Identifier: Apache-2.0
// Whether an analysis can be true: the charges of its ions must balance, its ions must add up to
// its salinity, and no value may be such as only a slip makes it.
//
// Sources: Standard Methods for the Examination of Water and Wastewater, 1030 E (charge balance:
// difference over sum of cations and anions, within ±5 % for waters of this strength); Millero et
// al. 2008 (Reference Composition: the ions that make up reference salinity). That they add up
// within ±5 %, and how far salt mixes differ from sea water without anything being wrong, is common
// practice, no source.
//
// Salt mixes are not sea water. A major ion is taken for a slip only where the slip explains it: by
// it the value becomes what sea water has, within the spread of salt mixes. Traces differ by orders
// of magnitude between mixes that are all sound, so of them only what is more than 300 times off is
// called a slip; too high moreover only above 1 mg/kg, as tanks do hold tenths of it.
#pragma once

#include <optional>
#include <vector>

#include "rules/chemistry/assay.h"

namespace brinegate {

enum class AssayFindingKind {
  ChargesDoNotBalance,  // measured, needed: difference over sum, and its limit
  SalinityDoesNotFit,   // measured, needed: implied and stated salinity, g/kg
  Impossible,           // not a content, or more than all of the water's salt; without an analyte
                        // (measured, needed: g/kg): all that was given together is
  UnitSlip,             // off by a power of 1000: `factor` brings it where sea water has it
  BelongsToAnother,     // it is what sea water has of `other`, and `other` has what this should
  ProbablyAnotherForm,  // `factor`: given as the ion, oxide or salt instead of the element, as the
                        // element instead of the ion, or as another measure of alkalinity
  FarFromSeaWater,      // than a salt mix has ever reason to be
};

struct AssayFinding {
  AssayFindingKind kind = AssayFindingKind::Impossible;
  std::optional<Analyte> analyte;
  std::optional<Analyte> other;
  // In the analyte's unit, unless said: as analysed, and what sea water of the sample's salinity
  // has (0: not known).
  double measured = 0.0;
  double needed = 0.0;
  double factor = 1.0;  // by which `measured` would be right
};

struct AssaySanity {
  // Where sodium, magnesium, calcium, potassium and sulfur are given. What else is not (alkalinity,
  // strontium, bromine, boron, fluorine: 0.6 % of the salt) counts as in sea water, but chlorine is
  // inferred from the balance, which then says nothing of its own.
  std::optional<double> cations;            // mmol/kg of charge
  std::optional<double> anions;             // mmol/kg of charge
  std::optional<double> charge_balance;     // (cations - anions) / (cations + anions)
  std::optional<double> inferred_chlorine;  // content, not below 0
  // The sum of the ions as reference salinity; also where chlorine is inferred.
  std::optional<ReferenceSalinity> implied_salinity;
  // Slips and what is impossible first. Salinity and balance are not judged where one of those
  // upsets them.
  std::vector<AssayFinding> findings;
};

AssaySanity assay_sanity(const Assay& assay);

}  // namespace brinegate
