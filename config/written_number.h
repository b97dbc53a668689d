// SPDX-License-Identifier: Apache-2.0
// A number as people write it, at the beginning of a text: decimal point or decimal comma,
// "1,300.5" and "1.300,5" too. What could be a thousand as well as one with three decimals is told.
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace brinegate::config {

struct WrittenNumber {
  std::string_view text;        // of the number alone
  std::string_view rest;        // what follows it, trimmed: its unit
  std::optional<double> value;  // nothing where it is malformed or a double cannot hold it
  // "1,000": a thousand, or one with three decimals; "1.000" likewise for those who write a decimal
  // comma.
  bool thousands_or_decimals = false;
  bool thousands_with_points = false;
  bool decimal_comma = false;  // and not open to be anything else
};

// Sign, digits, one point or comma, digits, exponent; groups of three where both signs tell them
// apart. Nothing where no number stands first.
std::optional<WrittenNumber> leading_number(std::string_view text);
// "can be read in two ways: write ...". Where three decimals are never clear, a fourth is proposed.
std::string two_readings(std::string_view text, const WrittenNumber& number,
                         bool three_decimals_are_open = false);

}  // namespace brinegate::config
