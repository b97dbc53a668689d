// SPDX-License-Identifier: Apache-2.0
#include "daemon/command_change.h"

#include <nlohmann/json.hpp>

#include "daemon/command_ask.h"
#include "daemon/command_options.h"

namespace brinegate::daemon {
namespace {

ExitStatus change(const Arguments& arguments, Console& console) {
  if (arguments.has("volume") == arguments.has("stop")) {
    console.err << "brinegate: give either --volume \"40 L\" to ask for a change, or --stop to end "
                   "the one that runs\n";
    return ExitStatus::Usage;
  }
  nlohmann::json request{{"station", arguments.operand(0)},
                         {"do", arguments.has("stop") ? "stop" : "change"}};
  put_options(arguments, {"volume"}, request);
  return ask_and_tell(arguments, std::move(request), console);
}

}  // namespace

Command change_command() {
  return {.words = "change",
          .summary = "ask for a water change; refused with reasons unless the batch is proven",
          .operands = {station_operand},
          .options = {{"volume", "40 L", "to draw from the batch"},
                      {"stop", "", "end the change that runs"},
                      config_option,
                      json_option},
          .notes =
              "The limits of one change stand in the configuration; a request cannot raise "
              "them.",
          .run = change};
}

}  // namespace brinegate::daemon
