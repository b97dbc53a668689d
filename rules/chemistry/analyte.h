// SPDX-License-Identifier: Apache-2.0
// What a water analysis can name, and what is known of each: groups, molar masses, natural sea
// water, the range that is usually wanted.
//
// The content of an analyte has one unit throughout rules/: milligrams of the element per kilogram
// of water; of alkalinity, millimoles of charge per kilogram (meq/kg).
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string_view>

namespace brinegate {

// One German degree of carbonate hardness is 10 mg of CaO in a litre (DIN 38409-6): this many
// mmol/L of charge, where CaO has 56.077 g/mol and two charges.
constexpr double milliequivalents_per_german_degree = 2.0 * 10.0 / 56.077;

// In the order in which people are shown them.
enum class Analyte : std::uint8_t {
  Alkalinity,
  Sodium,
  Magnesium,
  Calcium,
  Potassium,
  Strontium,
  Chlorine,
  Sulfur,
  Bromine,
  Boron,
  Fluorine,
  Nitrogen,
  Phosphorus,
  Silicon,
  Lithium,
  Rubidium,
  Iodine,
  Barium,
  Molybdenum,
  Vanadium,
  Nickel,
  Zinc,
  Copper,
  Iron,
  Manganese,
  Cobalt,
  Chromium,
  Selenium,
  Aluminium,
  Antimony,
  Tin,
  Lead,
  Cadmium,
  Mercury,
  Arsenic,
  Titanium,
  Tungsten,
  Beryllium,
  Silver,
  Scandium,
  Bismuth,
  Thallium,
  Lanthanum,
  Uranium,
  Zirconium,
};
constexpr std::size_t analyte_count = 45;

enum class AnalyteGroup : std::uint8_t { MajorIon, Nutrient, Trace, Contaminant };

// From `low` to `high`, in the analyte's unit, both in.
struct ContentRange {
  double low = 0.0;
  double high = 0.0;

  bool operator==(const ContentRange&) const = default;
};

struct AnalyteRow {
  Analyte analyte = Analyte::Alkalinity;
  std::string_view symbol;  // of the element; "alkalinity"
  std::string_view english;
  std::string_view german;
  AnalyteGroup group = AnalyteGroup::MajorIon;
  double molar_mass = 0.0;  // g/mol of the element (IUPAC standard atomic weights, abridged 2021);
                            // of alkalinity 1: content / molar mass is mmol/kg of every analyte
  int charge = 0;           // of the ion in which it is counted in a charge balance; 0: not counted
                            // (borate is in the alkalinity)
  std::optional<double> natural;  // content of sea water of SP 35
  std::string_view natural_source;
  // What a keeper usually wants at SP 35, only where the trade agrees on it; at another salinity it
  // is this times SP / 35, as the contents are.
  std::optional<ContentRange> wanted;
  std::string_view wanted_source;
  // Relative standard uncertainty of one analysis where it states none: 3 % of major ions, else
  // 10 % (common practice, no source).
  double usual_uncertainty = 0.1;
};

const std::array<AnalyteRow, analyte_count>& analytes();
const AnalyteRow& analyte_row(Analyte analyte);

}  // namespace brinegate
