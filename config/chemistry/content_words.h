// SPDX-License-Identifier: Apache-2.0
// Analytes and contents in words: names and symbols in English and German, quantities with their
// unit, as read and as shown.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "rules/chemistry/assay.h"
#include "rules/chemistry/exchange.h"
#include "rules/result.h"
#include "rules/units.h"

namespace brinegate::config {

// What a name stands for: "Ca", "calcium", "Kalzium", "SO4", "nitrate as N", "KH". `factor` brings
// the mass of the named form to that of the element (SO4 to S: 0.3338).
struct NamedAnalyte {
  Analyte analyte = Analyte::Alkalinity;
  double factor = 1.0;
};
std::optional<NamedAnalyte> analyte_named(std::string_view name);
// "there is nothing called 'Calzium': did you mean 'Calcium'?"
Error unknown_analyte(std::string_view name);

// "421 mg/L", "< 2 ug/L", "8,1 dKH", "0.002 mg/l", "n.d." (needs a detection limit beside it: an
// error says so), in water of this salinity and temperature. mg/L, ug/L, µg/l, ng/L, g/L, mg/kg,
// ug/kg, umol/kg, mmol/L, umol/L; ppm and ppb are mass per mass or per volume and are refused
// unless `ppm_is_mg_per_litre`. Alkalinity: dKH, meq/L, mmol/L, mmol/kg, ueq/kg, mg/L CaCO3.
struct WaterOfSample {
  PracticalSalinity salinity{35.0};
  Celsius temperature{25.0};
  bool ppm_is_mg_per_litre = false;
};
Result<AssayValue> parse_content(std::string_view text, const NamedAnalyte& of,
                                 const WaterOfSample& water);
// A consumption a day: "0.3 dKH/d", "12 mg/L/d", "4 %/d".
Result<Consumption> parse_consumption(std::string_view text, const NamedAnalyte& of,
                                      const WaterOfSample& water);

// In the unit that people use for it: "8.1 dKH", "421 mg/L", "2.0 µg/L", "< 2.0 µg/L". Water as
// above; the digits fit its uncertainty.
std::string show_content(const CensoredValue& content, Analyte analyte, const WaterOfSample& water);
// The number alone, in that unit, and the unit.
double shown_number(double content, Analyte analyte, const WaterOfSample& water);
std::string_view shown_unit(Analyte analyte);
// "Calcium", "Alkalinity".
std::string_view word(Analyte analyte);

}  // namespace brinegate::config
