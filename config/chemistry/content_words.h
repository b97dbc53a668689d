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

// What a name stands for: "Ca", "calcium", "Kalzium", "SO4", "nitrate as N", "NO3-N", "KH", "Ca2+",
// "Calcium (Ca)". `factor` brings the mass of the named form to that of the element (SO4 to S:
// 0.3338); every form has one atom of it. Letters and accents are free, but a symbol is written as
// in chemistry, or in two letters of one case ("CA", "ca").
struct NamedAnalyte {
  Analyte analyte = Analyte::Alkalinity;
  double factor = 1.0;

  bool operator==(const NamedAnalyte&) const = default;
};
std::optional<NamedAnalyte> analyte_named(std::string_view name);
// A name that could be an analyte's, but leaves open which or in which form: "CO" (cobalt, or what
// is left of CO2), "Sulfate (S)". Says what to write; nothing of all other names.
std::optional<Error> open_name(std::string_view name);
// "there is nothing called 'Calzium': did you mean 'Calcium'?"; of an open name what it leaves
// open.
Error unknown_analyte(std::string_view name);

// How a value is written down, whole or in parts (the cells of a table, the keys of an object).
struct WrittenContent {
  std::string_view value;            // "421 mg/L", "421", "421 ± 8 mg/L", "< 2 ug/L", "n.d.", "0"
  std::string_view unit;             // where `value` has none; where it has one, they must agree
  std::string_view uncertainty;      // standard (k = 1): "4 mg/L", "4" in the value's unit, "2 %"
  std::string_view detection_limit;  // "2 ug/L", or "2" in the value's unit
  bool decimal_commas = false;       // the text around it has them, so "1.300" is open too
};

struct WaterOfSample {
  PracticalSalinity salinity{35.0};
  Celsius temperature{25.0};
  bool ppm_is_mg_per_litre = false;
};

// Units: g/L, mg/L, ug/L (µg/L, mcg/L), ng/L and the same per kg; mol, mmol, umol, nmol per L and
// kg. Alkalinity: dKH, meq/L, mmol/L, mmol/kg, ueq/kg, mg/L CaCO3. A form may stand with the unit:
// "mg/L NO3", "mg/L as N". ppm and ppb are per litre or per kilogram and are refused unless
// `ppm_is_mg_per_litre`. "±" is an expanded uncertainty (k = 2, as laboratories state it: EURACHEM/
// CITAC Guide QUAM, 9.3) unless "(k=1)" stands with it; without any, the analyte's usual one
// counts.
//
// Below the detection limit, and so from 0 to it, is what is written "< 2 ug/L", what is written as
// not detected ("n.d.", "n.n.", "BDL") or 0 beside a detection limit, and a number below its limit.
// "n.d." and 0 without a limit are errors: how little would have been found is not known.
Result<AssayValue> parse_content(const WrittenContent& written, const NamedAnalyte& of,
                                 const WaterOfSample& water);
Result<AssayValue> parse_content(std::string_view text, const NamedAnalyte& of,
                                 const WaterOfSample& water);
// The content that a bound of a range is: a number and its unit alone, 0 too.
Result<double> parse_bound(std::string_view text, const NamedAnalyte& of,
                           const WaterOfSample& water);
// "n.d.", "not detected", "nicht nachweisbar", "BDL", "< LOD": looked for and not found.
bool says_not_detected(std::string_view text);
// Whether this is a unit of contents, whatever of: "mg/L", "dKH", "µg/l as N", "ppm".
bool is_content_unit(std::string_view text);

// What is used up a day: "0.3 dKH/d", "12 mg/L/d", "4 %/d" (of what is there). Below 0: dosed; no
// share. Without "±" it counts as exact.
Result<Consumption> parse_consumption(std::string_view text, const NamedAnalyte& of,
                                      const WaterOfSample& water);

// In the unit that people use for it: "8.1 dKH", "421 mg/L", "2.0 µg/L", "< 2.0 µg/L", "1.0 to 2.0
// µg/L". Water as above; the digits fit its uncertainty.
std::string show_content(const CensoredValue& content, Analyte analyte, const WaterOfSample& water);
// The number alone, in that unit, and the unit: "dKH", "mg/L", "µg/L"; "mg/L NO3", "mg/L PO4" and
// "mg/L SO4" for nitrogen, phosphorus and sulfur.
double shown_number(double content, Analyte analyte, const WaterOfSample& water);
std::string_view shown_unit(Analyte analyte);
// "Calcium", "Alkalinity".
std::string_view word(Analyte analyte);

}  // namespace brinegate::config
