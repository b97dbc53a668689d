// SPDX-License-Identifier: Apache-2.0
#include "daemon/command_correct.h"

#include <algorithm>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <fmt/format.h>
#include <fmt/ostream.h>
#include <nlohmann/json.hpp>

#include "config/advice.h"
#include "config/quantity.h"
#include "config/words.h"
#include "daemon/command_options.h"
#include "daemon/command_text.h"
#include "rules/dose_witness.h"
#include "rules/mass_balance.h"
#include "rules/probe.h"
#include "rules/seawater.h"

namespace brinegate::daemon {
namespace {

constexpr Litres any_capacity{1e6};  // no reservoir of this trade comes near

// In the unit that the keeper used for the target: practical salinity, else g/kg.
bool written_as_practical(std::string_view target) {
  const auto ends_with = [target](std::string_view unit) {
    return target.size() >= unit.size() &&
           std::equal(unit.rbegin(), unit.rend(), target.rbegin(), [](char a, char b) {
             return a == (b >= 'A' && b <= 'Z' ? b - 'A' + 'a' : b);
           });
  };
  return ends_with("psu") || ends_with("sp");
}

nlohmann::ordered_json json_of(const Correction& way, bool practical) {
  const double psu = way.after.salinity.value();
  const double g_kg = reference_salinity(way.after.salinity).value();
  const PracticalSalinity half =
      half_interval_95(Uncertain<PracticalSalinity>{way.after.salinity, way.standard_uncertainty});
  const auto in_unit = [practical](PracticalSalinity salinity) {
    return practical ? salinity.value() : reference_salinity(salinity).value();
  };
  return {{"action", config::word(way.action)},
          {"salt_g", way.salt.value()},
          {"water_l", way.water.value()},
          {"remove_l", way.remove.value()},
          {"salinity_after", in_unit(way.after.salinity)},
          {"salinity_after_low", in_unit(way.after.salinity - half)},
          {"salinity_after_high", in_unit(way.after.salinity + half)},
          {"salinity_after_unit", practical ? "PSU" : "g/kg"},
          {"practical_salinity_after", psu},
          {"reference_salinity_after_g_kg", g_kg},
          {"volume_after_l", way.after.volume.value()},
          {"fits", way.fits}};
}

void print_text(const std::vector<Correction>& ways, Console& console) {
  if (ways.empty()) {
    console.out << "Nothing to correct: the batch is at its target.\n";
    return;
  }
  std::vector<std::vector<std::string>> rows;
  for (const Correction& way : ways)
    rows.push_back({way.fits ? "fits" : "does not fit", config::sentence(way)});
  console.out << aligned(rows, 0);
}

ExitStatus correct(const Arguments& arguments, Console& console) {
  OptionReader reader(arguments, console);
  const PracticalSalinity none(0.0);
  const Water batch{reader.read("volume", config::parse_volume, Litres(0.0)),
                    reader.read("reading", config::parse_salinity, none)};
  const PracticalSalinity target = reader.read("target", config::parse_salinity, none);
  const Litres capacity = reader.read("capacity", config::parse_volume, any_capacity);
  const WaterUncertainty uncertainty{
      reader.read("volume-uncertainty", config::parse_volume,
                  batch.volume * noted_litres_uncertainty),
      reader.read("reading-uncertainty", config::parse_salinity_difference,
                  PracticalSalinity(default_probe_uncertainty(Measures::Salinity).absolute))};
  if (uncertainty.salinity < none)
    reader.refuse("reading-uncertainty", "an uncertainty is not negative");
  const SaltProduct salt = reader.salt_product();
  const Celsius temperature =
      reader.read(temperature_option.name, config::parse_temperature, assumed_water_temperature);
  if (!reader.all_read())
    return ExitStatus::Usage;
  const auto ways = corrections(batch, target, capacity, salt, temperature, uncertainty);
  if (!ways) {
    fmt::print(console.err, "brinegate: {}\n", ways.error().message);
    return ExitStatus::Usage;
  }
  if (arguments.has(json_option.name)) {
    const bool practical = written_as_practical(arguments.option("target"));
    nlohmann::ordered_json list = nlohmann::ordered_json::array();
    for (const Correction& way : *ways)
      list.push_back(json_of(way, practical));
    nlohmann::ordered_json answer{{"corrections", list},
                                  {"assumed", assumptions(salt, temperature)}};
    answer["assumed"]["volume_uncertainty_l"] = uncertainty.volume.value();
    answer["assumed"]["reading_uncertainty_psu"] = uncertainty.salinity.value();
    console.out << answer.dump(2) << '\n';
  } else {
    print_text(*ways, console);
    console.out << '\n'
                << assumptions_text(salt, target, temperature)
                << wrapped(fmt::format("Standard uncertainties taken: {} of the reading, {} of the "
                                       "volume, {:.2g} % of the dry fraction; ± is 95 %.",
                                       config::show(uncertainty.salinity),
                                       config::show(uncertainty.volume),
                                       100.0 * salt.dry_fraction_uncertainty),
                           0, 0);
  }
  const bool possible = ways->empty() || std::any_of(ways->begin(), ways->end(),
                                                     [](const Correction& w) { return w.fits; });
  if (possible)
    return ExitStatus::Done;
  console.err << "brinegate: no correction fits into the capacity\n";
  return ExitStatus::Refused;
}

}  // namespace

Command correct_command() {
  return {
      .words = "correct",
      .summary = "every way from the salinity a batch has to the one it should have",
      .operands = {},
      .options =
          joined({{"volume", "180 L", "what the reservoir holds", true},
                  {"reading", "33.1 ppt", "salinity it has, when all salt is dissolved", true},
                  {"target", "35 ppt", "salinity wanted", true},
                  {"capacity", "200 L", "of the reservoir; without it everything fits"},
                  {"reading-uncertainty", "0.2 ppt", "standard, of the reading; assumed 0.3 PSU"},
                  {"volume-uncertainty", "2 L", "standard, of the volume; assumed 2 %"}},
                 salt_and_water_options()),
      .notes =
          "In the JSON, salinity_after is in the unit of the target: PSU where that is "
          "written in PSU, else g/kg (ppt), and salinity_after_low and _high hold it in 95 of 100 "
          "cases. Status 1 where no way fits.",
      .run = correct};
}

}  // namespace brinegate::daemon
