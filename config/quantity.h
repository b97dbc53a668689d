// SPDX-License-Identifier: Apache-2.0
// Quantities as people write them: a number and its unit. A bare number is refused, because two
// units are always plausible. Decimal point or decimal comma, but "1,000 L" is refused (one or a
// thousand; see config/written_number.h); a space before the unit is optional. Symbols are
// case-tolerant where that is unambiguous ("ms/cm" is refused: milli or mega, siemens or second;
// "gal" too: US or imperial). What a quantity cannot be is refused: negative amounts, less than
// absolute zero, not finite.
#pragma once

#include <string>
#include <string_view>

#include "rules/result.h"
#include "rules/seawater.h"
#include "rules/time.h"
#include "rules/units.h"

namespace brinegate::config {

// Each error says what was read and which units are accepted, e.g.
//   "35" has no unit: write "35 PSU", "35 ppt" or "1.0264 sg" (25/25)
Result<Celsius> parse_temperature(std::string_view text);             // C, °C, F, °F, K
Result<MilliSiemensPerCm> parse_conductivity(std::string_view text);  // mS/cm, uS/cm, µS/cm, S/m
Result<Litres> parse_volume(std::string_view text);                   // L, mL, m3, US gal, imp gal
Result<Grams> parse_mass(std::string_view text);                      // g, kg, lb, oz
Result<Duration> parse_duration(std::string_view text);     // ms, s, min, h, d; up to a century
Result<LitresPerMinute> parse_flow(std::string_view text);  // L/min, L/h, US gal/h
// PSU or SP (practical salinity), ppt or g/kg (reference salinity), sg (25/25), g/L at 25 °C.
Result<PracticalSalinity> parse_salinity(std::string_view text);
// A difference of salinities, of either sign: PSU, SP, ppt, g/kg.
Result<PracticalSalinity> parse_salinity_difference(std::string_view text);
// A difference of temperatures, of either sign: C, K, F.
Result<Celsius> parse_temperature_difference(std::string_view text);
// A share: "5 %" or "0.05"; the one quantity whose bare number is unambiguous. 0 to 1.
Result<double> parse_share(std::string_view given);

// For people: a sensible number of digits, always with the unit.
std::string show(Celsius value);
std::string show(PracticalSalinity value);  // as reference salinity: "35.00 ppt"
// With its 95 % interval: "35.0 ± 0.3 ppt".
std::string show(const Uncertain<PracticalSalinity>& value);
std::string show(MilliSiemensPerCm value);
std::string show(Litres value);
std::string show(Grams value);     // g below 1 kg, else kg
std::string show(Duration value);  // "12 s", "22 min", "3.5 h", "14 d"

}  // namespace brinegate::config
