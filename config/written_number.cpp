// SPDX-License-Identifier: Apache-2.0
#include "config/written_number.h"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <system_error>

#include <fmt/format.h>

#include "config/plain_text.h"

namespace brinegate::config {
namespace {

bool is_mark(char c) {
  return c == '.' || c == ',';
}

std::size_t digits_at(std::string_view text, std::size_t at) {
  std::size_t end = at;
  while (end < text.size() && is_digit(text[end]))
    ++end;
  return end - at;
}

// Where the marks stand in "1,300.5", and how many digits stand before each and after the last.
struct Marks {
  std::size_t count = 0;
  char first = 0;
  char last = 0;
  std::size_t last_at = 0;
  std::size_t whole = 0;     // digits before the first
  std::size_t decimals = 0;  // digits after the last
  bool grouped = true;       // three digits between each two, and all but the last are the same
  std::size_t end = 0;
};

Marks marks_at(std::string_view text, std::size_t at) {
  Marks marks;
  marks.whole = digits_at(text, at);
  marks.end = at + marks.whole;
  while (marks.end < text.size() && is_mark(text[marks.end])) {
    if (marks.count > 0) {
      if (digits_at(text, marks.end + 1) == 0)
        break;
      marks.grouped = marks.grouped && marks.decimals == 3 && marks.last == marks.first;
    }
    marks.last = text[marks.end];
    marks.last_at = marks.end;
    marks.first = marks.count++ == 0 ? marks.last : marks.first;
    marks.decimals = digits_at(text, marks.end + 1);
    marks.end += 1 + marks.decimals;
  }
  return marks;
}

std::optional<double> value_of(std::string plain) {
  if (plain.starts_with('+'))
    plain.erase(0, 1);
  double value = 0.0;
  const auto [end, failure] = std::from_chars(plain.data(), plain.data() + plain.size(), value);
  if (failure != std::errc{} || end != plain.data() + plain.size() || !std::isfinite(value))
    return std::nullopt;
  return value;
}

// With a decimal point and without separators of thousands.
std::optional<std::string> plain_number(std::string_view text, const Marks& marks) {
  const bool only_groups = marks.count > 1 && marks.first == marks.last;
  if (marks.count > 1 && (!marks.grouped || marks.whole == 0 || marks.whole > 3 ||
                          (only_groups && marks.decimals != 3)))
    return std::nullopt;
  std::string plain;
  for (std::size_t i = 0; i < text.size(); ++i)
    if (!is_mark(text[i]))
      plain += text[i];
    else if (i == marks.last_at && !only_groups)
      plain += '.';
  return plain;
}

}  // namespace

std::optional<WrittenNumber> leading_number(std::string_view text) {
  const std::size_t begin = text.starts_with('-') || text.starts_with('+') ? 1 : 0;
  const Marks marks = marks_at(text, begin);
  if (marks.whole + marks.decimals == 0)
    return std::nullopt;
  std::size_t end = marks.end;
  if (end < text.size() && (text[end] == 'e' || text[end] == 'E')) {
    std::size_t exponent = end + 1;
    if (exponent < text.size() && (text[exponent] == '-' || text[exponent] == '+'))
      ++exponent;
    if (const std::size_t size = digits_at(text, exponent); size > 0)
      end = exponent + size;
  }
  WrittenNumber number{text.substr(0, end), trimmed(text.substr(end)), std::nullopt};
  if (const auto plain = plain_number(number.text, marks))
    number.value = value_of(*plain);
  const bool group_of_three = marks.count == 1 && marks.decimals == 3 && marks.whole >= 1 &&
                              marks.whole <= 3 && text[begin] != '0';
  number.thousands_or_decimals = group_of_three && marks.last == ',';
  number.thousands_with_points = group_of_three && marks.last == '.';
  number.decimal_comma =
      marks.last == ',' && !group_of_three && (marks.count == 1 || marks.first != marks.last);
  return number;
}

std::string two_readings(std::string_view text, const WrittenNumber& number,
                         bool three_decimals_are_open) {
  std::string point(number.text);
  std::string thousands(number.text);
  std::replace(point.begin(), point.end(), ',', '.');
  thousands.erase(thousands.find_first_of(".,"), 1);
  point += three_decimals_are_open ? "0" : "";
  const std::string unit = number.rest.empty() ? "" : fmt::format(" {}", number.rest);
  return fmt::format("{} can be read in two ways: write \"{}{}\" or \"{}{}\"", quoted(text), point,
                     unit, thousands, unit);
}

}  // namespace brinegate::config
