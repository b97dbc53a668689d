// SPDX-License-Identifier: Apache-2.0
#include "rules/chemistry/analyte.h"

namespace brinegate {
namespace {

using enum Analyte;
using enum AnalyteGroup;

// Of sea water of SP 35 at 25 °C, by which what was published per litre becomes content.
constexpr double reference_kilograms_per_litre = 1.0233436313880606;

constexpr std::string_view millero = "Millero et al. 2008 (Deep-Sea Res. I 55:50), table 4";
constexpr std::string_view li = "Li 1991 (Geochim. Cosmochim. Acta 55:3223), mean ocean";
constexpr std::string_view bruland = "Bruland 1983 (Chemical Oceanography 8, ch. 45), mean ocean";
constexpr std::string_view common_practice = "common practice, no source";

// Natural sea water, as published.
constexpr double nanograms_per_litre(double value) {
  return value * 1e-6 / reference_kilograms_per_litre;
}

// Usually wanted, per litre at 25 °C as keepers write it.
constexpr ContentRange milligrams_per_litre(double low, double high) {
  return {low / reference_kilograms_per_litre, high / reference_kilograms_per_litre};
}
constexpr ContentRange german_degrees(double low, double high) {
  return milligrams_per_litre(low * milliequivalents_per_german_degree,
                              high * milliequivalents_per_german_degree);
}

constexpr AnalyteRow major(Analyte analyte, std::string_view symbol, std::string_view english,
                           std::string_view german, double molar_mass, int charge, double natural,
                           std::optional<ContentRange> wanted = std::nullopt) {
  return {analyte,
          symbol,
          english,
          german,
          MajorIon,
          molar_mass,
          charge,
          natural,
          millero,
          wanted,
          wanted ? common_practice : std::string_view(),
          0.03};
}

struct Natural {
  std::optional<double> content;
  std::string_view source;
};
constexpr Natural by_li(double value) {
  return {nanograms_per_litre(value), li};
}

constexpr AnalyteRow minor(AnalyteGroup group, Analyte analyte, std::string_view symbol,
                           std::string_view english, std::string_view german, double molar_mass,
                           Natural natural = {},
                           std::optional<ContentRange> wanted = std::nullopt) {
  return {analyte,
          symbol,
          english,
          german,
          group,
          molar_mass,
          0,
          natural.content,
          natural.source,
          wanted,
          wanted ? common_practice : std::string_view(),
          0.10};
}

constexpr std::array<AnalyteRow, analyte_count> catalogue = {{
    major(Alkalinity, "alkalinity", "Alkalinity", "Alkalinität", 1.0, -1, 2.304373531687,
          german_degrees(7.0, 9.0)),
    major(Sodium, "Na", "Sodium", "Natrium", 22.990, 1, 10781.45),
    major(Magnesium, "Mg", "Magnesium", "Magnesium", 24.305, 2, 1283.72,
          milligrams_per_litre(1250.0, 1400.0)),
    major(Calcium, "Ca", "Calcium", "Calcium", 40.078, 2, 412.08,
          milligrams_per_litre(400.0, 450.0)),
    major(Potassium, "K", "Potassium", "Kalium", 39.098, 1, 399.1,
          milligrams_per_litre(380.0, 420.0)),
    major(Strontium, "Sr", "Strontium", "Strontium", 87.62, 2, 7.95,
          milligrams_per_litre(7.0, 9.0)),
    major(Chlorine, "Cl", "Chlorine", "Chlor", 35.45, -1, 19352.71),
    major(Sulfur, "S", "Sulfur", "Schwefel", 32.06, -2, 905.362021383),
    major(Bromine, "Br", "Bromine", "Brom", 79.904, -1, 67.28),
    major(Boron, "B", "Boron", "Bor", 10.81, 0, 4.487630225215, milligrams_per_litre(4.0, 6.0)),
    major(Fluorine, "F", "Fluorine", "Fluor", 18.998, -1, 1.3),
    minor(Nutrient, Nitrogen, "N", "Nitrogen", "Stickstoff", 14.007),
    minor(Nutrient, Phosphorus, "P", "Phosphorus", "Phosphor", 30.974, by_li(65000.0)),
    minor(Nutrient, Silicon, "Si", "Silicon", "Silicium", 28.085, by_li(2500000.0)),
    minor(Trace, Lithium, "Li", "Lithium", "Lithium", 6.94, by_li(180000.0)),
    minor(Trace, Rubidium, "Rb", "Rubidium", "Rubidium", 85.468, by_li(120000.0)),
    minor(Trace, Iodine, "I", "Iodine", "Iod", 126.90, by_li(58000.0),
          milligrams_per_litre(0.05, 0.08)),
    minor(Trace, Barium, "Ba", "Barium", "Barium", 137.33, by_li(15000.0)),
    minor(Trace, Molybdenum, "Mo", "Molybdenum", "Molybdän", 95.95, by_li(10000.0)),
    minor(Trace, Vanadium, "V", "Vanadium", "Vanadium", 50.942, by_li(2150.0)),
    minor(Trace, Nickel, "Ni", "Nickel", "Nickel", 58.693, by_li(530.0)),
    minor(Trace, Zinc, "Zn", "Zinc", "Zink", 65.38, by_li(320.0)),
    minor(Trace, Copper, "Cu", "Copper", "Kupfer", 63.546, by_li(210.0),
          milligrams_per_litre(0.0, 0.010)),
    minor(Trace, Iron, "Fe", "Iron", "Eisen", 55.845, {1e-6 * 55.845, bruland}),  // 1 nmol/kg
    minor(Trace, Manganese, "Mn", "Manganese", "Mangan", 54.938, by_li(72.0)),
    minor(Trace, Cobalt, "Co", "Cobalt", "Cobalt", 58.933, by_li(1.2)),
    minor(Trace, Chromium, "Cr", "Chromium", "Chrom", 51.996, by_li(250.0)),
    minor(Trace, Selenium, "Se", "Selenium", "Selen", 78.971, by_li(100.0)),
    minor(Contaminant, Aluminium, "Al", "Aluminium", "Aluminium", 26.982, by_li(300.0)),
    minor(Contaminant, Antimony, "Sb", "Antimony", "Antimon", 121.76, by_li(150.0)),
    minor(Contaminant, Tin, "Sn", "Tin", "Zinn", 118.71, by_li(0.6)),
    minor(Contaminant, Lead, "Pb", "Lead", "Blei", 207.2, by_li(2.7)),
    minor(Contaminant, Cadmium, "Cd", "Cadmium", "Cadmium", 112.41, by_li(79.0)),
    minor(Contaminant, Mercury, "Hg", "Mercury", "Quecksilber", 200.59, by_li(0.42)),
    minor(Contaminant, Arsenic, "As", "Arsenic", "Arsen", 74.922, by_li(1700.0)),
    minor(Contaminant, Titanium, "Ti", "Titanium", "Titan", 47.867, by_li(10.0)),
    minor(Contaminant, Tungsten, "W", "Tungsten", "Wolfram", 183.84, by_li(100.0)),
    minor(Contaminant, Beryllium, "Be", "Beryllium", "Beryllium", 9.0122, by_li(0.21)),
    minor(Contaminant, Silver, "Ag", "Silver", "Silber", 107.87, by_li(2.5)),
    minor(Contaminant, Scandium, "Sc", "Scandium", "Scandium", 44.956, by_li(0.86)),
    minor(Contaminant, Bismuth, "Bi", "Bismuth", "Bismut", 208.98),
    minor(Contaminant, Thallium, "Tl", "Thallium", "Thallium", 204.38),
    minor(Contaminant, Lanthanum, "La", "Lanthanum", "Lanthan", 138.91),
    minor(Contaminant, Uranium, "U", "Uranium", "Uran", 238.03),
    minor(Contaminant, Zirconium, "Zr", "Zirconium", "Zirconium", 91.224),
}};

constexpr bool in_order() {
  for (std::size_t i = 0; i < catalogue.size(); ++i)
    if (catalogue[i].analyte != static_cast<Analyte>(i))
      return false;
  return true;
}
static_assert(in_order(), "the catalogue's rows stand in the order of Analyte");

}  // namespace

const std::array<AnalyteRow, analyte_count>& analytes() {
  return catalogue;
}

const AnalyteRow& analyte_row(Analyte analyte) {
  return catalogue[static_cast<std::size_t>(analyte)];
}

}  // namespace brinegate
