// SPDX-License-Identifier: Apache-2.0
#include "daemon/command_config.h"

#include <cmath>
#include <filesystem>
#include <string>
#include <vector>

#include <fmt/format.h>
#include <fmt/ostream.h>
#include <nlohmann/json.hpp>

#include "config/cautions.h"
#include "config/load.h"
#include "daemon/command_options.h"
#include "daemon/command_text.h"
#include "daemon/history_tables.h"

namespace brinegate::daemon {
namespace {

nlohmann::ordered_json json_of(const std::vector<config::Problem>& problems) {
  nlohmann::ordered_json list = nlohmann::ordered_json::array();
  for (const config::Problem& problem : problems)
    list.push_back({{"file", problem.file},
                    {"line", problem.line},
                    {"column", problem.column},
                    {"message", problem.message}});
  return list;
}

std::string counted(std::size_t count, std::string_view what) {
  return fmt::format("{} {}{}", count, what, count == 1 ? "" : "s");
}

// The one sentence at the end.
std::string conclusion(const std::string& file, const config::Loaded& loaded) {
  if (!loaded.site)
    return fmt::format("{} cannot be used: {}.", file, counted(loaded.errors.size(), "error"));
  const std::string hazards =
      loaded.hazards.empty()
          ? ""
          : fmt::format(", with {} to know about", counted(loaded.hazards.size(), "hazard"));
  constexpr double megabyte = 1e6;
  return fmt::format("{} is valid: site {} with {} and {}{}. Its history takes {:.0f} MB at most.",
                     file, loaded.site->name, counted(loaded.site->stations.size(), "station"),
                     counted(loaded.site->profiles.size(), "profile"), hazards,
                     std::ceil(static_cast<double>(history_bytes(*loaded.site)) / megabyte));
}

ExitStatus status_of(const config::Loaded& loaded) {
  return loaded.site ? ExitStatus::Done : ExitStatus::Usage;
}

ExitStatus check(const Arguments& arguments, Console& console) {
  const std::string file(arguments.operand(0));
  if (!arguments.has(json_option.name))
    return check_configuration(file, console);
  const config::Loaded loaded = config::load_file(file);
  const nlohmann::ordered_json answer{{"valid", loaded.site.has_value()},
                                      {"errors", json_of(loaded.errors)},
                                      {"hazards", json_of(loaded.hazards)},
                                      {"cautions", config::cautions}};
  console.out << answer.dump(2) << '\n';
  return status_of(loaded);
}

}  // namespace

ExitStatus check_configuration(const std::string& file, Console& console) {
  const config::Loaded loaded = config::load_file(file);
  for (const config::Problem& problem : loaded.errors)
    fmt::print(console.err, "{}\n", config::render(problem));
  for (const config::Problem& problem : loaded.hazards) {
    fmt::print(console.err, "{}:{}:{}: hazard: {}\n", problem.file, problem.line, problem.column,
               problem.message);
  }
  if (loaded.site) {
    for (const std::string_view caution : config::cautions)
      console.out << "- " << wrapped(caution, 2, 2);
  }
  console.out << wrapped(conclusion(file, loaded), 0, 0);
  return status_of(loaded);
}

Command config_check_command() {
  return {.words = "config check",
          .summary = "every error in a configuration, with its place, and its hazards",
          .operands = {{"FILE", "the configuration to check; nothing is changed or started"}},
          .options = {json_option},
          .notes =
              "Errors and hazards are printed as file:line:column: message on the error "
              "stream. Status 2 where there is an error.",
          .run = check};
}

}  // namespace brinegate::daemon
