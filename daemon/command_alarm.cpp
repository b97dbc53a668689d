// SPDX-License-Identifier: Apache-2.0
#include "daemon/command_alarm.h"

#include <string>

#include <nlohmann/json.hpp>

#include "config/quantity.h"
#include "daemon/command_ask.h"
#include "daemon/command_options.h"
#include "daemon/command_status_text.h"

namespace brinegate::daemon {
namespace {

constexpr Operand alarm_operand{"ALARM", "its name as in `brinegate alarm list`"};
constexpr Option for_option{"for", "\"2 h\"", "for how long; a day at most"};
constexpr Option reason_option{"reason", "TEXT", "why, for the record"};

ExitStatus list(const Arguments& arguments, Console& console) {
  const Answer answer = ask(arguments, {{"do", "status"}}, console);
  if (answer.status != ExitStatus::Done)
    return answer.status;
  const auto status = nlohmann::ordered_json::parse(answer.body);
  nlohmann::ordered_json alarms = nlohmann::ordered_json::array();
  std::string text;
  for (const auto& station : status.value("stations", nlohmann::ordered_json::array())) {
    for (auto alarm : station.value("alarms", nlohmann::ordered_json::array())) {
      alarm["station"] = station.value("station", "");
      alarms.push_back(std::move(alarm));
    }
    if (const std::string lines = alarms_text(station); !lines.empty())
      text += station.value("station", "") + "\n" + lines;
  }
  if (arguments.has(json_option.name))
    console.out << nlohmann::ordered_json{{"alarms", alarms}}.dump(2) << '\n';
  else
    console.out << (text.empty() ? "No alarms.\n" : text);
  return ExitStatus::Done;
}

ExitStatus acknowledge(const Arguments& arguments, Console& console) {
  return ask_and_tell(
      arguments,
      {{"station", arguments.operand(0)}, {"do", "acknowledge"}, {"alarm", arguments.operand(1)}},
      console);
}

ExitStatus shelve(const Arguments& arguments, Console& console) {
  OptionReader options(arguments, console);
  if (!arguments.has(for_option.name))
    options.refuse(for_option.name, "is missing: say for how long, such as --for \"2 h\"");
  else
    options.find(for_option.name, config::parse_duration);
  if (!options.all_read())
    return ExitStatus::Usage;
  return ask_and_tell(arguments,
                      {{"station", arguments.operand(0)},
                       {"do", "shelve"},
                       {"alarm", arguments.operand(1)},
                       {"for", arguments.option(for_option.name)},
                       {"reason", arguments.option(reason_option.name)}},
                      console);
}

ExitStatus unshelve(const Arguments& arguments, Console& console) {
  return ask_and_tell(
      arguments,
      {{"station", arguments.operand(0)}, {"do", "unshelve"}, {"alarm", arguments.operand(1)}},
      console);
}

}  // namespace

std::vector<Command> alarm_commands() {
  return {
      {.words = "alarm list",
       .summary = "the alarms of every station",
       .operands = {},
       .options = {config_option, json_option},
       .notes = {},
       .run = list},
      {.words = "alarm acknowledge",
       .summary = "say that a person has seen an alarm",
       .operands = {station_operand, alarm_operand},
       .options = {config_option, json_option},
       .notes = "An acknowledged alarm stays until its cause has gone.",
       .run = acknowledge},
      {.words = "alarm shelve",
       .summary = "announce nothing of an alarm for a while",
       .operands = {station_operand, alarm_operand},
       .options = {for_option, reason_option, config_option, json_option},
       .notes = "What it blocks stays blocked. Ends by itself, at the latest when the daemon "
                "starts anew.",
       .run = shelve},
      {.words = "alarm unshelve",
       .summary = "announce an alarm again before its time",
       .operands = {station_operand, alarm_operand},
       .options = {config_option, json_option},
       .notes = {},
       .run = unshelve},
  };
}

}  // namespace brinegate::daemon
