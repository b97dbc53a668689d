// SPDX-License-Identifier: Apache-2.0
// What can be measured, in words and units: the words of `measures`, the units a raw number may
// have, the words of a contact. Numbers come out in the unit that rules/probe.h gives each.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "config/quantity.h"
#include "rules/probe.h"
#include "rules/result.h"

namespace brinegate::config {

std::string_view word_for(Measures measures);
// Error: the nearest word.
Result<Measures> measures_of(std::string_view word);

// A value, and a difference of two values, of a quantity that has a unit: no contact, no gravity.
Result<double> parse_measured(Measures measures, std::string_view text);
Result<double> parse_measured_difference(Measures measures, std::string_view text);

// A value of any of these, for people: "53.07 mS/cm", "running".
std::string show_measured(Measures measures, double value);
std::string show_difference(Measures measures, double difference);

// Value = scale * raw + offset for raw numbers in this unit.
struct UnitConversion {
  double scale = 1.0;
  double offset = 0.0;
};
Result<UnitConversion> conversion_from(Measures measures, std::string_view unit);
// Of a level that has a strapping table: the table's first column is in this unit.
Result<UnitConversion> height_conversion(std::string_view unit);

// What a contact says when its value is 1, and when it is 0: "wet" and "dry".
struct ContactWords {
  std::string_view one;
  std::string_view zero;
};
ContactWords contact_words(Measures contact);

}  // namespace brinegate::config
