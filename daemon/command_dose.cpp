// SPDX-License-Identifier: Apache-2.0
#include "daemon/command_dose.h"

#include <optional>
#include <string>

#include <fmt/format.h>
#include <fmt/ostream.h>
#include <nlohmann/json.hpp>

#include "config/quantity.h"
#include "daemon/command_options.h"
#include "daemon/command_text.h"
#include "rules/mass_balance.h"
#include "rules/seawater.h"

namespace brinegate::daemon {
namespace {

struct Question {
  std::optional<Litres> water;  // to salt
  std::optional<Litres> to;     // or: to end at
  Water rest;
  PracticalSalinity target;
  SaltProduct salt;
  Celsius temperature;
  std::optional<Litres> capacity;
};

std::optional<Question> read_question(const Arguments& arguments, Console& console) {
  OptionReader reader(arguments, console);
  Question asked;
  asked.water = reader.find("water", config::parse_volume);
  asked.to = reader.find("to", config::parse_volume);
  asked.rest.volume = reader.read("rest", config::parse_volume, Litres(0.0));
  asked.rest.salinity =
      reader.read("rest-salinity", config::parse_salinity, PracticalSalinity(0.0));
  asked.target = reader.read("target", config::parse_salinity, PracticalSalinity(0.0));
  asked.salt = reader.salt_product();
  asked.temperature =
      reader.read(temperature_option.name, config::parse_temperature, assumed_water_temperature);
  asked.capacity = reader.find("capacity", config::parse_volume);
  if (arguments.has("water") == arguments.has("to"))
    reader.refuse("water",
                  "give either it, the fresh water to salt, or --to, the volume to end at");
  if (arguments.has("rest") != arguments.has("rest-salinity"))
    reader.refuse("rest", "and --rest-salinity describe what is left together: give both or none");
  if (!reader.all_read())
    return std::nullopt;
  return asked;
}

void print_json(const Question& asked, const Dose& dose, bool fits, Console& console) {
  nlohmann::ordered_json answer{
      {"salt_g", dose.salt.value()},
      {"water_l", dose.water.value()},
      {"volume_after_l", dose.volume_after.value()},
      {"practical_salinity_after", asked.target.value()},
      {"reference_salinity_after_g_kg", reference_salinity(asked.target).value()},
      {"assumed", assumptions(asked.salt, asked.temperature)}};
  answer["assumed"]["density_after_kg_m3"] = density(asked.target, asked.temperature).value();
  if (asked.capacity)
    answer["fits"] = fits;
  console.out << answer.dump(2) << '\n';
}

void print_text(const Question& asked, const Dose& dose, Console& console) {
  std::string onto;
  if (asked.rest.volume > Litres(0.0))
    onto = fmt::format(" onto {} at {}", config::show(asked.rest.volume),
                       config::show(asked.rest.salinity));
  console.out << wrapped(
      fmt::format("Weigh in {:.0f} g of salt for {:.2f} L of fresh water{}: {:.2f} L at {:.2f} ppt "
                  "({:.2f} PSU).",
                  dose.salt.value(), dose.water.value(), onto, dose.volume_after.value(),
                  reference_salinity(asked.target).value(), asked.target.value()),
      0, 0);
  console.out << '\n' << assumptions_text(asked.salt, asked.target, asked.temperature);
}

ExitStatus dose(const Arguments& arguments, Console& console) {
  const auto asked = read_question(arguments, console);
  if (!asked)
    return ExitStatus::Usage;
  const auto found = asked->water ? dose_for_water(*asked->water, asked->rest, asked->target,
                                                   asked->salt, asked->temperature)
                                  : dose_for_volume(*asked->to, asked->rest, asked->target,
                                                    asked->salt, asked->temperature);
  if (!found) {
    fmt::print(console.err, "brinegate: {}\n", found.error().message);
    return ExitStatus::Usage;
  }
  const bool fits = !asked->capacity || found->volume_after <= *asked->capacity;
  if (arguments.has(json_option.name))
    print_json(*asked, *found, fits, console);
  else
    print_text(*asked, *found, console);
  if (fits)
    return ExitStatus::Done;
  fmt::print(console.err,
             "brinegate: {:.2f} L do not fit into {:.2f} L: use --to \"{:g} L\" for the salt and "
             "the water that end there\n",
             found->volume_after.value(), asked->capacity->value(), asked->capacity->value());
  return ExitStatus::Refused;
}

}  // namespace

Command dose_command() {
  return {
      .words = "dose",
      .summary = "the salt to weigh in, and the volume it comes to",
      .operands = {},
      .options = joined({{"water", "200 L", "fresh water to salt"},
                         {"to", "200 L", "instead of --water: end at exactly this volume"},
                         {"target", "35 ppt", "salinity wanted", true},
                         {"rest", "20 L", "what is left in the reservoir; assumed none"},
                         {"rest-salinity", "34 ppt", "of what is left"},
                         {"capacity", "200 L", "of the reservoir: status 1 where it does not fit"}},
                        salt_and_water_options()),
      .notes =
          "Salt raises the volume: 200 L of fresh water become more than 200 L. Weigh; "
          "a scoop is no measure, its grams change with the moisture of the salt.",
      .run = dose};
}

}  // namespace brinegate::daemon
