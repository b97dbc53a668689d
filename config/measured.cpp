// SPDX-License-Identifier: Apache-2.0
#include "config/measured.h"

#include <algorithm>
#include <array>
#include <cassert>
#include <utility>

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "config/nearest.h"

namespace brinegate::config {
namespace {

constexpr std::array<std::pair<std::string_view, Measures>, 14> words{{
    {"conductivity", Measures::Conductivity},
    {"compensated-conductivity", Measures::CompensatedConductivity},
    {"salinity", Measures::Salinity},
    {"specific-gravity", Measures::SpecificGravity},
    {"temperature", Measures::Temperature},
    {"level", Measures::Level},
    {"flow", Measures::Flow},
    {"tank-level", Measures::TankLevel},
    {"drain-flow", Measures::DrainFlow},
    {"running", Measures::Circulation},
    {"leak", Measures::Leak},
    {"reservoir-low", Measures::ReservoirLow},
    {"tank-high", Measures::TankHigh},
    {"held-off", Measures::HeldOff},
}};

template <class T>
Result<double> number_of(const Result<T>& parsed) {
  if (!parsed)
    return parsed.error();
  return parsed->value();
}

// The units in which a probe may report. Not every unit a person may write: a probe's salinity in
// g/L would need its temperature.
std::vector<std::string_view> raw_units(Measures measures) {
  switch (measures) {
    case Measures::Conductivity:
    case Measures::CompensatedConductivity:
      return {"mS/cm", "uS/cm", "µS/cm", "μS/cm", "S/m"};
    case Measures::Salinity:
      return {"PSU", "SP", "ppt", "g/kg"};
    case Measures::Temperature:
      return {"C", "°C", "F", "°F", "K"};
    case Measures::Level:
    case Measures::TankLevel:
      return {"L", "mL", "m3", "US gal", "imp gal"};
    case Measures::Flow:
    case Measures::DrainFlow:
      return {"L/min", "L/h", "US gal/h"};
    default:
      return {};
  }
}

Error unknown_unit(std::string_view unit, std::string_view of,
                   const std::vector<std::string_view>& known) {
  return {
      fmt::format("\"{}\" is not a unit of {}: write one of {}", unit, of, fmt::join(known, ", "))};
}

}  // namespace

std::string_view word_for(Measures measures) {
  const auto* const found = std::find_if(words.begin(), words.end(),
                                         [&](const auto& word) { return word.second == measures; });
  return found == words.end() ? "pump running" : found->first;
}

Result<Measures> measures_of(std::string_view word) {
  std::vector<std::string> known;
  for (const auto& [name, measures] : words) {
    if (name == word)
      return measures;
    known.emplace_back(name);
  }
  return Error{
      fmt::format("\"{}\" is nothing a probe measures: {}", word, suggestion(word, known))};
}

Result<double> parse_measured(Measures measures, std::string_view text) {
  switch (measures) {
    case Measures::Conductivity:
    case Measures::CompensatedConductivity:
      return number_of(parse_conductivity(text));
    case Measures::Salinity:
      return number_of(parse_salinity(text));
    case Measures::Temperature:
      return number_of(parse_temperature(text));
    case Measures::Level:
    case Measures::TankLevel:
      return number_of(parse_volume(text));
    case Measures::Flow:
    case Measures::DrainFlow:
      return number_of(parse_flow(text));
    default:
      assert(false && "a pure number has no unit to parse");
      return Error{"this is a pure number"};
  }
}

Result<double> parse_measured_difference(Measures measures, std::string_view text) {
  if (measures == Measures::Salinity)
    return number_of(parse_salinity_difference(text));
  if (measures == Measures::Temperature)
    return number_of(parse_temperature_difference(text));
  return parse_measured(measures, text);
}

std::string show_measured(Measures measures, double value) {
  switch (measures) {
    case Measures::Conductivity:
    case Measures::CompensatedConductivity:
      return show(MilliSiemensPerCm(value));
    case Measures::Salinity:
      return show(PracticalSalinity(value));
    case Measures::SpecificGravity:
      return fmt::format("{:.4f}", value);
    case Measures::Temperature:
      return show(Celsius(value));
    case Measures::Level:
    case Measures::TankLevel:
      return show(Litres(value));
    case Measures::Flow:
    case Measures::DrainFlow:
      return fmt::format("{:.2f} L/min", value);
    default:
      return std::string(value == 1.0 ? contact_words(measures).one : contact_words(measures).zero);
  }
}

// Only a temperature's zero is not nothing, and a salinity is shown in another unit.
std::string show_difference(Measures measures, double difference) {
  return measures == Measures::Temperature ? fmt::format("{:.1f} °C", difference)
                                           : show_measured(measures, difference);
}

Result<UnitConversion> conversion_from(Measures measures, std::string_view unit) {
  const auto known = raw_units(measures);
  if (std::find(known.begin(), known.end(), unit) == known.end())
    return unknown_unit(unit, "a " + std::string(word_for(measures)), known);
  // The sizes of units stay the business of quantity.cpp alone: a step of one gives the scale, and
  // of all these units only those of temperature have their zero elsewhere.
  const auto step = parse_measured_difference(measures, fmt::format("1 {}", unit));
  if (!step)
    return step.error();
  if (measures != Measures::Temperature)
    return UnitConversion{*step, 0.0};
  const double somewhere = unit == "K" ? 300.0 : 50.0;
  const auto there = parse_measured(measures, fmt::format("{} {}", somewhere, unit));
  if (!there)
    return there.error();
  return UnitConversion{*step, *there - somewhere * *step};
}

Result<UnitConversion> height_conversion(std::string_view unit) {
  static const std::vector<std::string_view> known{"mm", "cm", "m", "in", "%", "mA", "V"};
  if (std::find(known.begin(), known.end(), unit) == known.end())
    return unknown_unit(unit, "a level with a strapping table", known);
  return UnitConversion{};
}

ContactWords contact_words(Measures contact) {
  switch (contact) {
    case Measures::Circulation:
    case Measures::PumpRunning:
    case Measures::DrainRunning:
      return {"running", "stopped"};
    case Measures::Leak:
      return {"wet", "dry"};
    case Measures::ReservoirLow:
      return {"low", "ok"};
    case Measures::TankHigh:
      return {"full", "ok"};
    case Measures::HeldOff:
      return {"held", "free"};
    default:
      assert(false && "not a contact");
      return {};
  }
}

}  // namespace brinegate::config
