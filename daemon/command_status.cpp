// SPDX-License-Identifier: Apache-2.0
#include "daemon/command_status.h"

#include <nlohmann/json.hpp>

#include "daemon/command_ask.h"
#include "daemon/command_options.h"
#include "daemon/command_status_text.h"

namespace brinegate::daemon {
namespace {

ExitStatus status(const Arguments& arguments, Console& console) {
  nlohmann::json request{{"do", "status"}};
  if (!arguments.operand(0).empty())
    request["station"] = arguments.operand(0);
  const Answer answer = ask(arguments, request, console);
  if (answer.status != ExitStatus::Done)
    return answer.status;
  const auto parsed = nlohmann::ordered_json::parse(answer.body);
  if (arguments.has(json_option.name)) {
    console.out << parsed.dump(2) << '\n';
    return ExitStatus::Done;
  }
  bool first = true;
  for (const auto& station : parsed.value("stations", nlohmann::ordered_json::array())) {
    console.out << (first ? "" : "\n") << station_text(station);
    first = false;
  }
  return ExitStatus::Done;
}

}  // namespace

Command status_command() {
  return {.words = "status",
          .summary = "what the gate says and why",
          .operands = {{"STATION", "only this one", false}},
          .options = {config_option, json_option},
          .notes = {},
          .run = status};
}

}  // namespace brinegate::daemon
