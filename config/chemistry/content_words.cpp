// SPDX-License-Identifier: Apache-2.0
#include "config/chemistry/content_words.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <string>
#include <utility>

#include <fmt/format.h>

#include "config/chemistry/content_units.h"
#include "config/plain_text.h"
#include "config/written_number.h"

namespace brinegate::config {
namespace {

constexpr double most_content = 1e6;  // mg/kg: nothing else is left in the water

// What a cell and those beside it are read with.
struct Reading {
  const WrittenContent& written;
  const NamedAnalyte& of;
  const WaterOfSample& water;
};

struct Amount {
  double content = 0.0;
  std::string_view unit;
};

Result<WrittenNumber> number_in(std::string_view text, const Reading& reading) {
  const auto number = leading_number(text);
  if (!number)
    return Error{fmt::format("{} does not begin with a number: write a number and its unit ({})",
                             quoted(text), accepted_units(reading.of.analyte))};
  if (number->thousands_or_decimals ||
      (number->thousands_with_points && reading.written.decimal_commas))
    return Error{two_readings(text, *number, reading.written.decimal_commas)};
  if (!number->value)
    return Error{fmt::format("{} holds a number that cannot be read", quoted(text))};
  if (*number->value < 0.0)
    return Error{fmt::format("{} is less than nothing", quoted(text))};
  return *number;
}

// A number with its unit, else in `usual_unit`.
Result<Amount> amount(std::string_view text, std::string_view usual_unit, const Reading& reading) {
  const auto number = number_in(text, reading);
  if (!number)
    return number.error();
  const std::string_view unit = number->rest.empty() ? trimmed(usual_unit) : number->rest;
  if (unit.empty())
    return Error{fmt::format("{} has no unit: write it in {}", quoted(text),
                             accepted_units(reading.of.analyte))};
  const auto one = content_of_one(unit, reading.of, reading.water);
  if (!one)
    return Error{fmt::format("{}: {}", quoted(text), one.error().message)};
  const double content = *number->value * *one;
  if (content > most_content)
    return Error{fmt::format("{} is more than water can hold", quoted(text))};
  return Amount{content, unit};
}

std::string_view without_brackets(std::string_view text) {
  text = trimmed(text);
  while (text.starts_with('(') || text.starts_with('['))
    text = trimmed(text.substr(1));
  while (text.ends_with(')') || text.ends_with(']'))
    text = trimmed(text.substr(0, text.size() - 1));
  return text;
}

// "421 ± 8 mg/L (k=2)", taken apart. The unit may stand on either side.
struct PlusMinus {
  std::string_view value;
  std::string_view half_width;  // empty: none is stated
  double coverage = 2.0;        // k
};
PlusMinus plus_minus(std::string_view text) {
  PlusMinus parts{text, {}};
  for (const std::string_view sign : {"±", "+/-", "+-"}) {
    const std::size_t at = text.find(sign);
    if (at == std::string_view::npos)
      continue;
    parts.value = trimmed(text.substr(0, at));
    parts.half_width = trimmed(text.substr(at + sign.size()));
    break;
  }
  for (const auto& [said, coverage] : {std::pair<std::string_view, double>{"(k=1)", 1.0},
                                       {"(k = 1)", 1.0},
                                       {"k=1", 1.0},
                                       {"(k=2)", 2.0},
                                       {"(k = 2)", 2.0},
                                       {"k=2", 2.0}})
    if (parts.half_width.ends_with(said)) {
      parts.half_width = trimmed(parts.half_width.substr(0, parts.half_width.size() - said.size()));
      parts.coverage = coverage;
      break;
    }
  return parts;
}

// In content; a share of it where written with "%".
Result<double> half_width(std::string_view text, const Amount& of_value, const Reading& reading) {
  const auto number = number_in(text, reading);
  if (!number)
    return number.error();
  double width = 0.0;
  if (number->rest == "%") {
    width = *number->value / 100.0 * of_value.content;
  } else {
    const auto width_amount = amount(text, of_value.unit, reading);
    if (!width_amount)
      return width_amount.error();
    width = width_amount->content;
  }
  if (width <= 0.0 || width > of_value.content)
    return Error{
        fmt::format("{} cannot be its uncertainty: write more than 0 and less than the "
                    "value, or leave it out",
                    quoted(text))};
  return width;
}

Result<double> standard_uncertainty(const PlusMinus& parts, const Amount& value,
                                    const Reading& reading) {
  const std::string_view stated = trimmed(reading.written.uncertainty);
  if (!parts.half_width.empty() && !stated.empty())
    return Error{fmt::format("{} stands beside the uncertainty {}: leave one of the two out",
                             quoted(reading.written.value), quoted(stated))};
  if (!parts.half_width.empty()) {
    const auto width = half_width(parts.half_width, value, reading);
    return width ? Result<double>(*width / parts.coverage) : width.error();
  }
  if (!stated.empty())
    return half_width(stated, value, reading);
  return analyte_row(reading.of.analyte).usual_uncertainty * value.content;
}

// "<", "≤", "<=": what follows is the limit.
std::optional<std::string_view> after_less_than(std::string_view text) {
  for (const std::string_view sign : {"<=", "≤", "<"})
    if (text.starts_with(sign))
      return trimmed(text.substr(sign.size()));
  return std::nullopt;
}

std::string letters_alone(std::string_view text) {
  std::string letters;
  for (const char c : text)
    if (std::string_view(" .()[]-").find(c) == std::string_view::npos)
      letters += c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
  return letters;
}

Result<double> limit_in(std::string_view text, std::string_view usual_unit,
                        const Reading& reading) {
  const std::string_view bare = without_brackets(text);
  const auto limit = amount(after_less_than(bare).value_or(bare), usual_unit, reading);
  if (!limit)
    return limit.error();
  if (limit->content <= 0.0)
    return Error{fmt::format("{} cannot be a detection limit: it is above 0", quoted(text))};
  return limit->content;
}

AssayValue not_found(double limit) {
  AssayValue value;
  value.content = below(limit);
  value.detection_limit = limit;
  return value;
}

// Nothing where none is stated.
Result<std::optional<double>> stated_limit(std::string_view usual_unit, const Reading& reading) {
  const std::string_view stated = trimmed(reading.written.detection_limit);
  if (stated.empty())
    return std::optional<double>();
  const auto limit = limit_in(stated, usual_unit, reading);
  return limit ? Result<std::optional<double>>(std::optional(*limit)) : limit.error();
}

Error limit_is_missing(std::string_view text) {
  return {
      fmt::format("{} says that it was not found, but not how little would have been: write "
                  "its detection limit, such as \"< 2 ug/L\"",
                  quoted(text))};
}

// "n.d.", "n.d. (< 2 ug/L)", or beside a detection limit.
Result<AssayValue> read_not_detected(std::string_view text, const Reading& reading) {
  if (const std::size_t at = text.find_first_of("<\xe2"); at != std::string_view::npos && at > 0) {
    const auto limit = limit_in(text.substr(at), reading.written.unit, reading);
    return limit ? Result<AssayValue>(not_found(*limit)) : limit.error();
  }
  const auto limit = stated_limit(reading.written.unit, reading);
  if (!limit)
    return limit.error();
  if (!*limit)
    return limit_is_missing(text);
  return not_found(**limit);
}

Result<AssayValue> read_number(std::string_view text, const Reading& reading) {
  const PlusMinus parts = plus_minus(text);
  // "421 ± 8 mg/L": the unit on the right is that of both.
  const auto left = leading_number(parts.value);
  const auto right = leading_number(parts.half_width);
  const bool unit_is_right =
      left && left->rest.empty() && right && !right->rest.empty() && right->rest != "%";
  const auto value =
      amount(parts.value, unit_is_right ? right->rest : reading.written.unit, reading);
  if (!value)
    return value.error();
  const auto limit = stated_limit(value->unit, reading);
  if (!limit)
    return limit.error();
  if (value->content == 0.0 && !*limit)
    return limit_is_missing(text);
  if (*limit && value->content < **limit)
    return not_found(**limit);
  const auto uncertainty = standard_uncertainty(parts, *value, reading);
  if (!uncertainty)
    return uncertainty.error();
  AssayValue result;
  result.content = measured(value->content, *uncertainty);
  result.detection_limit = *limit;
  return result;
}

// The number's own unit and the one beside it.
std::optional<Error> two_units(std::string_view text, const Reading& reading) {
  const auto number = leading_number(after_less_than(text).value_or(text));
  const std::string_view beside = trimmed(reading.written.unit);
  if (!number || beside.empty() || !is_content_unit(number->rest))
    return std::nullopt;
  const auto one = content_of_one(number->rest, reading.of, reading.water);
  const auto other = content_of_one(beside, reading.of, reading.water);
  if (!one || (other && std::abs(*other - *one) <= 1e-9 * *one))
    return std::nullopt;
  return Error{fmt::format("{} stands beside the unit {}: leave one of the two units out",
                           quoted(text), quoted(beside))};
}

Result<AssayValue> read_value(std::string_view text, const Reading& reading) {
  if (text.empty())
    return Error{"there is no value: write a number and its unit"};
  if (auto contradiction = two_units(text, reading))
    return *std::move(contradiction);
  if (says_not_detected(text))
    return read_not_detected(text, reading);
  if (after_less_than(text)) {
    const auto limit = limit_in(text, reading.written.unit, reading);
    return limit ? Result<AssayValue>(not_found(*limit)) : limit.error();
  }
  if (text.starts_with('>') || text.starts_with("≥"))
    return Error{
        fmt::format("{} is no value but a least one: write what was measured", quoted(text))};
  return read_number(text, reading);
}

}  // namespace

bool says_not_detected(std::string_view text) {
  constexpr std::array words{"nd",
                             "nn",
                             "bdl",
                             "udl",
                             "ung",
                             "bld",
                             "bql",
                             "lod",
                             "loq",
                             "<lod",
                             "<loq",
                             "<mdl",
                             "<nwg",
                             "<bg",
                             "notdetected",
                             "notdetectable",
                             "nichtnachweisbar",
                             "nichtdetektierbar",
                             "belowdetectionlimit",
                             "belowdetection",
                             "unternachweisgrenze",
                             "unterdernachweisgrenze"};
  constexpr std::size_t longest = 80;
  if (text.size() > longest)
    return false;
  std::string letters = letters_alone(text);
  // "n.d. (< 2 ug/L)"
  if (const std::size_t limit = letters.find_first_of("<\xe2");
      limit != std::string::npos && limit > 0)
    letters.resize(limit);
  return std::find(words.begin(), words.end(), letters) != words.end();
}

Result<AssayValue> parse_content(const WrittenContent& written, const NamedAnalyte& of,
                                 const WaterOfSample& water) {
  const std::string_view text = trimmed(written.value);
  auto value = read_value(text, {written, of, water});
  if (!value)
    return value;
  AssayValue result = std::move(value).value();
  result.written = text;
  const auto number = leading_number(after_less_than(text).value_or(text));
  if (number && number->rest.empty() && !trimmed(written.unit).empty())
    result.written += fmt::format(" {}", trimmed(written.unit));
  return result;
}

Result<AssayValue> parse_content(std::string_view text, const NamedAnalyte& of,
                                 const WaterOfSample& water) {
  WrittenContent written;
  written.value = text;
  return parse_content(written, of, water);
}

Result<double> parse_bound(std::string_view text, const NamedAnalyte& of,
                           const WaterOfSample& water) {
  const WrittenContent written;
  const auto bound = amount(trimmed(text), {}, {written, of, water});
  return bound ? Result<double>(bound->content) : bound.error();
}

Result<Consumption> parse_consumption(std::string_view given, const NamedAnalyte& of,
                                      const WaterOfSample& water) {
  std::string_view text = trimmed(given);
  bool a_day = false;
  for (const std::string_view day : {"/d", "/day", "/Tag", "per day", "a day", "pro Tag", "am Tag"})
    if (text.ends_with(day)) {
      text = trimmed(text.substr(0, text.size() - day.size()));
      a_day = true;
      break;
    }
  if (!a_day)
    return Error{
        fmt::format("{} does not say in which time: write for example \"0.3 dKH/d\" or "
                    "\"4 %/d\"",
                    quoted(given))};
  const bool dosed = text.starts_with('-');
  if (dosed)
    text = trimmed(text.substr(1));
  const WrittenContent written;
  const Reading reading{written, of, water};
  const PlusMinus parts = plus_minus(text);
  if (parts.value.ends_with('%')) {
    const auto number = number_in(parts.value, reading);
    if (!number)
      return number.error();
    if (dosed || *number->value > 100.0 || !parts.half_width.empty())
      return Error{fmt::format("{} cannot be a share used up: write 0 to 100 %/d", quoted(given))};
    return Consumption{Kinetics::Proportional, *number->value / 100.0, 0.0};
  }
  const auto right = leading_number(parts.half_width);
  const auto rate = amount(parts.value, right ? right->rest : std::string_view(), reading);
  if (!rate)
    return rate.error();
  Consumption result{Kinetics::ConstantRate, dosed ? -rate->content : rate->content, 0.0};
  if (!parts.half_width.empty()) {
    const auto width = half_width(parts.half_width, *rate, reading);
    if (!width)
      return width.error();
    result.standard_uncertainty = *width / parts.coverage;
  }
  return result;
}

}  // namespace brinegate::config
