// SPDX-License-Identifier: Apache-2.0
// One reader for "number unit", one table of units a quantity, one sentence for each mistake.
#include "config/quantity.h"

#include <algorithm>
#include <cmath>
#include <span>
#include <string>

#include <fmt/format.h>

#include "config/plain_text.h"
#include "config/written_number.h"

namespace brinegate::config {
namespace {

enum class Case {
  Exact,  // capitals tell prefixes or units apart: mS, MS, ms
  Any,
};

struct Unit {
  std::string_view symbol;
  double (*to_ours)(double);
  Case letters = Case::Any;
};

// What may be written. `bare` is what to say to a number without unit; {0} is that number.
struct Kind {
  std::string_view name;
  std::string_view accepted;
  std::string_view bare;
  std::span<const Unit> units;
  double lowest;
  double highest;
};

Result<const Unit*> unit_of(const Kind& kind, std::string_view text, const WrittenNumber& number) {
  for (const Unit& unit : kind.units)
    if (unit.symbol == number.rest)
      return &unit;
  for (const Unit& unit : kind.units) {
    if (!same_letters(unit.symbol, number.rest))
      continue;
    if (unit.letters == Case::Any)
      return &unit;
    return Error{fmt::format(
        "{} leaves its unit open (m is milli and M mega, S is siemens and s second): write \"{} "
        "{}\" if that is meant",
        quoted(text), number.text, unit.symbol)};
  }
  if (same_letters(number.rest, "gal") || same_letters(number.rest, "gal/h"))
    return Error{fmt::format("{} leaves open which gallon is meant: write \"{} US {}\"{}",
                             quoted(text), number.text, number.rest,
                             kind.accepted.find("imp gal") != std::string_view::npos
                                 ? fmt::format(" or \"{} imp gal\"", number.text)
                                 : "")};
  return Error{fmt::format("{}: {} is not a unit of {}, which is written in {}", quoted(text),
                           quoted(number.rest), kind.name, kind.accepted)};
}

Error not_a_number(const Kind& kind, std::string_view text) {
  return {fmt::format("{} does not begin with a number: {} is a number and its unit, which is {}",
                      quoted(text), kind.name, kind.accepted)};
}

Error unreadable_number(std::string_view text) {
  return {fmt::format("{} holds a number beyond what can be reckoned with", quoted(text))};
}

Result<double> parse(const Kind& kind, std::string_view given) {
  const std::string_view text = trimmed(given);
  const auto number = leading_number(text);
  if (!number)
    return not_a_number(kind, text);
  if (!number->value)
    return unreadable_number(text);
  if (number->rest.empty())
    return Error{fmt::format("{} has no unit: {}", quoted(text),
                             fmt::format(fmt::runtime(kind.bare), number->text))};
  const auto unit = unit_of(kind, text, *number);
  if (!unit)
    return unit.error();
  // A specific gravity has one digit before its decimals, whichever sign stands between.
  if (number->thousands_or_decimals && (*unit)->symbol != "sg")
    return Error{two_readings(text, *number)};
  const double value = (*unit)->to_ours(*number->value);
  if (!std::isfinite(value))
    return unreadable_number(text);
  if (value < kind.lowest)
    return Error{fmt::format("{} is less than {} can be", quoted(text), kind.name)};
  if (value > kind.highest)
    return Error{fmt::format("{} is more than {} can be", quoted(text), kind.name)};
  return value;
}

template <class T>
Result<T> as(const Result<double>& parsed) {
  if (!parsed)
    return parsed.error();
  return T(*parsed);
}

constexpr double any = 1e12;
constexpr double litres_per_us_gallon = 3.785411784;  // 231 cubic inches, NIST Handbook 44
constexpr double litres_per_imp_gallon = 4.54609;     // UK Units of Measurement Regulations 1995
constexpr double grams_per_pound = 453.59237;         // international pound, NIST SP 811
constexpr double longest_days = 36500.0;
constexpr double strongest = 300.0;  // PSU or g/L; beyond a saturated brine

double same(double v) {
  return v;
}
double thousand(double v) {
  return v * 1000.0;
}
double thousandth(double v) {
  return v / 1000.0;
}
double from_fahrenheit(double v) {
  return (v - 32.0) * 5.0 / 9.0;
}
double from_fahrenheit_step(double v) {
  return v * 5.0 / 9.0;
}
double from_kelvin(double v) {
  return v - 273.15;
}
double from_ppt(double v) {
  return practical_salinity(ReferenceSalinity(v)).value();
}
// Beyond these ends a conversion would be an invention; both fail the range of a salinity.
double from_gravity(double v) {
  if (v < 0.9 || v > 1.2)
    return v < 0.9 ? -strongest : any;
  const double salinity = salinity_of_gravity(v, {}).value();
  return std::abs(salinity) < 1e-9 ? 0.0 : salinity;  // fresh water must not round to less
}
double from_grams_per_litre(double v) {
  return v < 0.0 || v > strongest ? v : salinity_of_grams_per_litre(v, Celsius(25.0)).value();
}

constexpr Unit temperature_units[] = {
    {"C", same}, {"°C", same}, {"F", from_fahrenheit}, {"°F", from_fahrenheit}, {"K", from_kelvin}};
constexpr Kind temperature{"a temperature",   "C, F or K", R"(write "{0} C", "{0} F" or "{0} K")",
                           temperature_units, -273.15,     any};

constexpr Unit temperature_steps[] = {{"C", same},
                                      {"°C", same},
                                      {"K", same},
                                      {"F", from_fahrenheit_step},
                                      {"°F", from_fahrenheit_step}};
constexpr Kind temperature_difference{"a difference of temperatures",
                                      "C, K or F",
                                      R"(write "{0} C" or "{0} F")",
                                      temperature_steps,
                                      -any,
                                      any};

constexpr Unit conductivity_units[] = {{"mS/cm", same, Case::Exact},
                                       {"uS/cm", thousandth, Case::Exact},
                                       {"µS/cm", thousandth, Case::Exact},  // U+00B5
                                       {"μS/cm", thousandth, Case::Exact},  // U+03BC
                                       {"S/m", [](double v) { return v * 10.0; }, Case::Exact}};
constexpr Kind conductivity_kind{"a conductivity",
                                 "mS/cm, uS/cm or S/m",
                                 R"(write "{0} mS/cm", "{0} uS/cm" or "{0} S/m")",
                                 conductivity_units,
                                 0.0,
                                 any};

constexpr Unit volume_units[] = {{"L", same},
                                 {"mL", thousandth, Case::Exact},
                                 {"ml", thousandth, Case::Exact},
                                 {"m3", thousand},
                                 {"m³", thousand},
                                 {"US gal", [](double v) { return v * litres_per_us_gallon; }},
                                 {"imp gal", [](double v) { return v * litres_per_imp_gallon; }}};
constexpr Kind volume{"a volume",
                      "L, mL, m3, US gal or imp gal",
                      R"(write "{0} L" or "{0} US gal")",
                      volume_units,
                      0.0,
                      any};

constexpr Unit mass_units[] = {{"g", same},
                               {"kg", thousand},
                               {"lb", [](double v) { return v * grams_per_pound; }},
                               {"oz", [](double v) { return v * grams_per_pound / 16.0; }}};
constexpr Kind mass{"a mass", "g, kg, lb or oz", R"(write "{0} g" or "{0} kg")", mass_units, 0.0,
                    any};

constexpr Unit duration_units[] = {{"ms", thousandth, Case::Exact},
                                   {"s", same},
                                   {"min", [](double v) { return v * 60.0; }},
                                   {"h", [](double v) { return v * 3600.0; }},
                                   {"d", [](double v) { return v * 86400.0; }}};
constexpr Kind duration{"a duration",
                        "ms, s, min, h or d",
                        R"(write "{0} s", "{0} min", "{0} h" or "{0} d")",
                        duration_units,
                        0.0,
                        longest_days * 86400.0};

constexpr Unit flow_units[] = {
    {"L/min", same},
    {"L/h", [](double v) { return v / 60.0; }},
    {"US gal/h", [](double v) { return v * litres_per_us_gallon / 60.0; }}};
constexpr Kind flow{
    "a flow", "L/min, L/h or US gal/h", R"(write "{0} L/min" or "{0} L/h")", flow_units, 0.0, any};

constexpr Unit salinity_units[] = {{"PSU", same},        {"SP", same},
                                   {"ppt", from_ppt},    {"g/kg", from_ppt},
                                   {"sg", from_gravity}, {"g/L", from_grams_per_litre}};
constexpr Kind salinity{"a salinity",
                        "PSU, SP, ppt, g/kg, sg (25/25) or g/L (at 25 °C)",
                        R"(write "{0} PSU", "{0} ppt" or "1.0264 sg" (25/25))",
                        salinity_units,
                        0.0,
                        strongest};

constexpr Kind salinity_difference{"a difference of salinities",
                                   "PSU, SP, ppt or g/kg",
                                   R"(write "{0} PSU" or "{0} ppt")",
                                   std::span(salinity_units).first<4>(),
                                   -strongest,
                                   strongest};

constexpr Unit share_units[] = {{"%", [](double v) { return v / 100.0; }}};
constexpr Kind share{"a share", "% or as a bare number from 0 to 1", "", share_units, 0.0, 1.0};

// Fixed decimals, never "-0.0".
std::string decimals(double value, int count) {
  std::string text = fmt::format("{:.{}f}", value, count);
  if (text.starts_with('-') && text.find_first_not_of("-0.") == std::string::npos)
    text.erase(0, 1);
  return text;
}

// One decimal where it tells something: "3.5", "14".
std::string short_decimal(double value) {
  std::string text = decimals(value, 1);
  if (text.ends_with(".0"))
    text.resize(text.size() - 2);
  return text;
}

}  // namespace

Result<Celsius> parse_temperature(std::string_view text) {
  return as<Celsius>(parse(temperature, text));
}
Result<MilliSiemensPerCm> parse_conductivity(std::string_view text) {
  return as<MilliSiemensPerCm>(parse(conductivity_kind, text));
}
Result<Litres> parse_volume(std::string_view text) {
  return as<Litres>(parse(volume, text));
}
Result<Grams> parse_mass(std::string_view text) {
  return as<Grams>(parse(mass, text));
}
Result<Duration> parse_duration(std::string_view text) {
  const auto parsed = parse(duration, text);
  if (!parsed)
    return parsed.error();
  return Duration(std::llround(*parsed * 1e9));
}
Result<LitresPerMinute> parse_flow(std::string_view text) {
  return as<LitresPerMinute>(parse(flow, text));
}
Result<PracticalSalinity> parse_salinity(std::string_view text) {
  return as<PracticalSalinity>(parse(salinity, text));
}
Result<PracticalSalinity> parse_salinity_difference(std::string_view text) {
  return as<PracticalSalinity>(parse(salinity_difference, text));
}
Result<Celsius> parse_temperature_difference(std::string_view text) {
  return as<Celsius>(parse(temperature_difference, text));
}

Result<double> parse_share(std::string_view given) {
  const std::string_view text = trimmed(given);
  const auto number = leading_number(text);
  if (!number || !number->rest.empty())
    return parse(share, text);
  if (!number->value)
    return unreadable_number(text);
  if (*number->value < share.lowest || *number->value > share.highest)
    return Error{fmt::format("{} is no share from 0 to 1: write \"{} %\" if that is meant",
                             quoted(text), number->text)};
  return *number->value;
}

std::string show(Celsius value) {
  return decimals(value.value(), std::abs(value.value()) < 1.0 ? 2 : 1) + " °C";
}

std::string show(PracticalSalinity value) {
  const double ppt = reference_salinity(value).value();
  return decimals(ppt, std::abs(ppt) < 0.1 ? 3 : 2) + " ppt";
}

std::string show(const Uncertain<PracticalSalinity>& value) {
  const double half = reference_salinity(half_interval_95(value)).value();
  const int digits = half < 0.095 ? 2 : 1;
  return fmt::format("{} ± {} ppt", decimals(reference_salinity(value.value).value(), digits),
                     decimals(half, digits));
}

std::string show(MilliSiemensPerCm value) {
  return decimals(value.value(), std::abs(value.value()) < 1.0 ? 3 : 2) + " mS/cm";
}

std::string show(Litres value) {
  return decimals(value.value(), std::abs(value.value()) < 10.0 ? 2 : 1) + " L";
}

std::string show(Grams value) {
  const double g = value.value();
  if (std::abs(g) < 99.95)
    return decimals(g, 1) + " g";
  if (std::abs(g) < 999.5)
    return decimals(g, 0) + " g";
  return decimals(g / 1000.0, std::abs(g) < 9999.5 ? 3 : 2) + " kg";
}

std::string show(Duration value) {
  const double s = seconds(value);
  const double size = std::abs(s);
  if (size == 0.0)
    return "0 s";
  if (size < 1.0)
    return decimals(s * 1000.0, 0) + " ms";
  if (size < 119.5)
    return size < 10.0 ? short_decimal(s) + " s" : decimals(s, 0) + " s";
  if (size < 119.5 * 60.0)
    return decimals(s / 60.0, 0) + " min";
  if (size < 47.95 * 3600.0)
    return short_decimal(s / 3600.0) + " h";
  return short_decimal(s / 86400.0) + " d";
}

}  // namespace brinegate::config
