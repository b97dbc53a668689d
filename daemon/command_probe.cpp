// SPDX-License-Identifier: Apache-2.0
#include "daemon/command_probe.h"

#include <string>

#include <fmt/format.h>
#include <fmt/ostream.h>
#include <nlohmann/json.hpp>

#include "daemon/command_ask.h"
#include "daemon/command_health_text.h"
#include "daemon/command_options.h"
#include "daemon/command_record.h"

namespace brinegate::daemon {
namespace {

ExitStatus calibrate(const Arguments& arguments, Console& console) {
  nlohmann::json request{
      {"station", arguments.operand(0)}, {"do", "calibrate"}, {"probe", arguments.operand(1)}};
  put_options(arguments, {"standard", "at"}, request);
  return ask_and_tell(arguments, std::move(request), console);
}

ExitStatus health(const Arguments& arguments, Console& console) {
  using Json = nlohmann::ordered_json;
  const Answer answer =
      ask(arguments, {{"do", "status"}, {"station", arguments.operand(0)}}, console);
  if (answer.status != ExitStatus::Done)
    return answer.status;
  const Json stations = Json::parse(answer.body).value("stations", Json::array());
  Json probes =
      stations.empty() ? Json::object() : stations.front().value("probe_health", Json::object());
  if (const std::string probe(arguments.operand(1)); !probe.empty()) {
    if (!probes.contains(probe)) {
      fmt::print(console.err,
                 "brinegate: nothing is known of a cell {} on this station: there is no such cell, "
                 "or it has not been read yet\n",
                 probe);
      return ExitStatus::Refused;
    }
    probes = Json{{probe, probes.at(probe)}};
  }
  if (arguments.has(json_option.name)) {
    console.out << Json{{"station", arguments.operand(0)}, {"probe_health", probes}}.dump(2)
                << '\n';
    return ExitStatus::Done;
  }
  if (probes.empty())
    console.out << "No cell has been read yet.\n";
  bool first = true;
  for (const auto& [probe, one] : probes.items()) {
    console.out << (first ? "" : "\n") << probe_health_text(probe, one);
    first = false;
  }
  return ExitStatus::Done;
}

ExitStatus verify(const Arguments& arguments, Console& console) {
  nlohmann::json request{
      {"station", arguments.operand(0)}, {"do", "verify"}, {"probe", arguments.operand(1)}};
  put_options(arguments, {"shows"}, request);
  return ask_and_tell(arguments, std::move(request), console);
}

}  // namespace

std::vector<Command> probe_commands() {
  return {
      {.words = "probe calibrate",
       .summary = "calibrate a probe that hangs in a standard now",
       .operands = {station_operand, probe_operand},
       .options = {{"standard", "53.07 mS/cm", "what it has to show there", true},
                   {"at", "25 C",
                    "temperature at which the standard has that value; 25 C if not "
                    "given"},
                   config_option,
                   json_option},
       .notes = "Rinse the probe with the standard, hang it in, and wait until it is steady. The "
                "proof of a batch that relied on the probe is void afterwards.",
       .run = calibrate},
      {.words = "probe verify",
       .summary = "hold what is read against what the probe's own display shows now",
       .operands = {station_operand, probe_operand},
       .options = {{"shows", "53.1 mS/cm",
                    "what the display, or the standard, shows; of a contact a word: running, "
                    "stopped, wet, dry, low, full, ok",
                    true},
                   config_option,
                   json_option},
       .notes = "A register map that is wrong in its address, order of bytes, scale or unit often "
                "looks like water. Every probe that is read over one is verified once, at two "
                "points far apart: a conductivity in fresh water and in a standard, a temperature "
                "in waters 5 °C apart, a level at two heights, a contact in both states. A point "
                "that disagrees voids what was there, and so does an edit of the probe's entry in "
                "the configuration.",
       .run = verify},
      probe_history_command(),
      {.words = "probe health",
       .summary = "how a cell has drifted, and when to calibrate it",
       .operands = {station_operand, {"PROBE", "only this one", false}},
       .options = {config_option, json_option},
       .notes = "Each proven batch compares a cell with the salt weighed in and with the other "
                "cell, each calibration with the standard. Uncertainties are standard ones (k = "
                "1). A calibration is due when the cell may have come to be off by half of the "
                "profile's tolerance.",
       .run = health},
  };
}

}  // namespace brinegate::daemon
