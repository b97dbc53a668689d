// SPDX-License-Identifier: Apache-2.0
#include "daemon/command_salinity.h"

#include <optional>
#include <string_view>

#include <fmt/format.h>
#include <fmt/ostream.h>
#include <nlohmann/json.hpp>

#include "config/quantity.h"
#include "daemon/command_options.h"
#include "daemon/command_text.h"
#include "rules/seawater.h"

namespace brinegate::daemon {
namespace {

struct Found {
  PracticalSalinity salinity;
  Celsius temperature = assumed_water_temperature;
  Quality quality = Quality::Good;
};

// A temperature that may stand without its unit where the option leaves no doubt: "25", "25 C".
Result<Celsius> parse_celsius(std::string_view text) {
  if (const auto bare = parse_number(text))
    return Celsius(bare.value());
  return config::parse_temperature(text);
}

// "25/25": of the sample, of the pure water it is compared with.
Result<GravityTemperatures> parse_gravity_temperatures(std::string_view text) {
  const std::size_t slash = text.find('/');
  if (slash != std::string_view::npos) {
    const auto sample = parse_celsius(text.substr(0, slash));
    const auto reference = parse_celsius(text.substr(slash + 1));
    if (sample && reference)
      return GravityTemperatures{sample.value(), reference.value()};
  }
  return Error{fmt::format("'{}': write the two temperatures in °C, as in 25/25 or 20/4", text)};
}

Result<double> parse_gravity(std::string_view text) {
  auto number = parse_number(text);
  if (!number || number.value() < 0.95 || number.value() > 1.1)
    return Error{fmt::format("'{}': write a specific gravity such as 1.0264", text)};
  return number;
}

Result<double> parse_alpha(std::string_view text) {
  auto percent = parse_number(text);
  if (!percent || percent.value() < 0.0 || percent.value() > 5.0)
    return Error{fmt::format("'{}': write the compensation in percent per °C, as in 2.0", text)};
  return percent;
}

std::optional<Found> from_conductivity(const Arguments& arguments, OptionReader& reader) {
  const auto shown = reader.find("conductivity", config::parse_conductivity);
  const auto temperature = reader.find("temperature", config::parse_temperature);
  const auto compensated_to = reader.find("compensated-to", parse_celsius);
  const auto alpha = reader.find("alpha", parse_alpha);
  if (!arguments.has("temperature"))
    reader.refuse("temperature", "is missing: conductivity gives a salinity only together with it");
  if (arguments.has("alpha") && !arguments.has("compensated-to"))
    reader.refuse("alpha", "needs --compensated-to, the temperature the probe compensates to");
  if (!reader.all_read())
    return std::nullopt;
  MilliSiemensPerCm in_situ = *shown;
  if (compensated_to) {
    LinearCompensation compensation{.reference = *compensated_to};
    if (alpha)
      compensation.alpha_per_celsius = *alpha / 100.0;
    in_situ = uncompensated(in_situ, *temperature, compensation);
  }
  const Quality quality = salinity_quality(in_situ, *temperature);
  if (quality == Quality::Bad) {
    reader.refuse("conductivity",
                  fmt::format("{} at {} is no sea water: the equation takes 0 to 120 mS/cm "
                              "and -5 to 60 °C",
                              config::show(in_situ), config::show(*temperature)));
    return std::nullopt;
  }
  return Found{practical_salinity(in_situ, *temperature), *temperature, quality};
}

std::optional<Found> from_gravity_or_salinity(OptionReader& reader) {
  const auto gravity = reader.find("gravity", parse_gravity);
  const auto at = reader.read("at", parse_gravity_temperatures, GravityTemperatures{});
  const auto salinity = reader.find("salinity", config::parse_salinity);
  const auto temperature =
      reader.read("temperature", config::parse_temperature, assumed_water_temperature);
  if (!reader.all_read())
    return std::nullopt;
  Found found{.salinity = gravity ? salinity_of_gravity(*gravity, at) : *salinity,
              .temperature = temperature};
  if (found.salinity < PracticalSalinity(0.0)) {
    reader.refuse("gravity", "is less than that of fresh water at these temperatures");
    return std::nullopt;
  }
  found.quality = salinity_quality(conductivity(found.salinity, temperature), temperature);
  if (found.quality == Quality::Bad) {
    reader.refuse(gravity ? "gravity" : "salinity",
                  fmt::format("{} at {} is no sea water", config::show(found.salinity),
                              config::show(temperature)));
    return std::nullopt;
  }
  return found;
}

void print(const Found& found, bool json, Console& console) {
  const double reference = reference_salinity(found.salinity).value();
  const double kg_m3 = density(found.salinity, found.temperature).value();
  const double gravity = specific_gravity(found.salinity, GravityTemperatures{});
  const MilliSiemensPerCm in_situ = conductivity(found.salinity, found.temperature);
  const bool good = found.quality == Quality::Good;
  if (json) {
    const nlohmann::ordered_json answer{{"practical_salinity", found.salinity.value()},
                                        {"reference_salinity_g_kg", reference},
                                        {"density_kg_m3", kg_m3},
                                        {"specific_gravity_25_25", gravity},
                                        {"conductivity_ms_cm", in_situ.value()},
                                        {"temperature_c", found.temperature.value()},
                                        {"quality", good ? "good" : "uncertain"}};
    console.out << answer.dump(2) << '\n';
    return;
  }
  const std::string at = " at " + config::show(found.temperature);
  console.out << aligned({{"practical salinity", fmt::format("{:.3f} PSU", found.salinity.value())},
                          {"reference salinity", fmt::format("{:.3f} g/kg (ppt)", reference)},
                          {"density" + at, fmt::format("{:.2f} kg/m3", kg_m3)},
                          {"specific gravity 25/25", fmt::format("{:.4f}", gravity)},
                          {"conductivity" + at, fmt::format("{:.2f} mS/cm", in_situ.value())}},
                         0);
  if (!good)
    console.out << wrapped(
        "Uncertain: outside what the equations are defined for (0 to 42 PSU, -2 to 35 °C), "
        "so this is an extrapolation.",
        0, 0);
}

ExitStatus salinity(const Arguments& arguments, Console& console) {
  OptionReader reader(arguments, console);
  const int given = (arguments.has("conductivity") ? 1 : 0) + (arguments.has("gravity") ? 1 : 0) +
                    (arguments.has("salinity") ? 1 : 0);
  if (given != 1) {
    console.err << "brinegate: give one of --conductivity, --gravity and --salinity\n";
    return ExitStatus::Usage;
  }
  const auto found = arguments.has("conductivity") ? from_conductivity(arguments, reader)
                                                   : from_gravity_or_salinity(reader);
  if (!found)
    return ExitStatus::Usage;
  print(*found, arguments.has(json_option.name), console);
  return ExitStatus::Done;
}

}  // namespace

Command salinity_command() {
  return {.words = "salinity",
          .summary = "from conductivity, specific gravity or salinity to all of them",
          .operands = {},
          .options = {{"conductivity", "53.07 mS/cm", "as read; needs --temperature"},
                      {"gravity", "1.0264", "specific gravity, at the temperatures of --at"},
                      {"salinity", "35 ppt", "in PSU, ppt (g/kg) or as a specific gravity"},
                      {"temperature", "25 C", "of the water; without --conductivity assumed 25 C"},
                      {"compensated-to", "25 C",
                       "the conductivity is not that in the water but scaled by the probe to this "
                       "temperature"},
                      {"alpha", "2.0", "percent per degree of that scaling; assumed 2.0"},
                      {"at", "25/25",
                       "temperatures of the sample and of the pure water; assumed 25/25"},
                      json_option},
          .notes =
              "Give one of --conductivity, --gravity and --salinity. Conductivity compensated to "
              "25 °C is not the conductivity of sea water at 25 °C: away from 25 °C it is off by "
              "tenths of a unit unless --compensated-to says so. PSS-78 and TEOS-10 at one "
              "atmosphere.",
          .run = salinity};
}

}  // namespace brinegate::daemon
