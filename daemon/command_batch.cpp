// SPDX-License-Identifier: Apache-2.0
#include "daemon/command_batch.h"

#include <optional>
#include <utility>

#include <nlohmann/json.hpp>

#include "config/quantity.h"
#include "daemon/command_ask.h"
#include "daemon/command_options.h"
#include "daemon/command_record.h"

namespace brinegate::daemon {
namespace {

ExitStatus begin(const Arguments& arguments, Console& console) {
  nlohmann::json request{{"station", arguments.operand(0)}, {"do", "begin"}};
  put_options(arguments, {"lot", "profile", "salt"}, request);
  OptionReader reader(arguments, console);
  if (const auto fraction = reader.find(dry_fraction_option.name, config::parse_share))
    request["dry_fraction"] = *fraction;
  if (const auto factor = reader.find("salt-factor", parse_number))
    request["salt_factor"] = *factor;
  if (const auto uncertainty = reader.find("salt-factor-uncertainty", config::parse_share))
    request["salt_factor_uncertainty"] = *uncertainty;
  if (!reader.all_read())
    return ExitStatus::Usage;
  return ask_and_tell(arguments, std::move(request), console);
}

ExitStatus note(const Arguments& arguments, Console& console) {
  nlohmann::json request{{"station", arguments.operand(0)}, {"do", "note"}};
  const std::size_t before = request.size();
  put_options(arguments, {"salt", "water", "removed", "salt-total", "text"}, request);
  if (request.size() == before) {
    console.err << "brinegate: nothing to note: give --salt, --water, --removed, --salt-total or "
                   "--text\n";
    return ExitStatus::Usage;
  }
  return ask_and_tell(arguments, std::move(request), console);
}

ExitStatus abandon(const Arguments& arguments, Console& console) {
  return ask_and_tell(arguments, {{"station", arguments.operand(0)}, {"do", "abandon"}}, console);
}

Command begin_command() {
  return {.words = "batch begin",
          .summary = "begin a batch: its lot, its profile, the salt weighed in",
          .operands = {station_operand},
          .options = {{"lot", "NAME", "production lot of the salt", true},
                      {"profile", "NAME", "what the batch must be; else the station's"},
                      {"salt", "7.4 kg", "weighed in now; more with `brinegate batch note`"},
                      dry_fraction_option,
                      {"salt-factor", "1.004",
                       "the lot's salinity over what its conductivity implies, as measured; else 1 "
                       "with an uncertainty of 0.6 %"},
                      {"salt-factor-uncertainty", "0.3 %", "standard uncertainty of that (k = 1)"},
                      config_option,
                      json_option},
          .notes =
              "Profile and lot are frozen into the batch: editing them later changes nothing "
              "about it. Without --dry-fraction the lot yields what was learned of it from "
              "proven batches.",
          .run = begin};
}

Command note_command() {
  return {.words = "batch note",
          .summary = "note what was added to the batch or taken out",
          .operands = {station_operand},
          .options = {{"salt", "86 g", "added"},
                      {"water", "2 L", "fresh water added"},
                      {"removed", "3 L", "water taken out"},
                      {"salt-total", "7.4 kg", "all salt so far, in place of what was noted"},
                      {"text", "stirred by hand", "anything else worth knowing"},
                      config_option,
                      json_option},
          .notes = "Whatever changes the water voids the proof until it has been judged again.",
          .run = note};
}

Command abandon_command() {
  return {.words = "batch abandon",
          .summary = "give the batch up; the gate stays shut",
          .operands = {station_operand},
          .options = {config_option, json_option},
          .notes = {},
          .run = abandon};
}

}  // namespace

std::vector<Command> batch_commands() {
  return {begin_command(), note_command(), abandon_command(), batch_list_command(),
          batch_report_command()};
}

}  // namespace brinegate::daemon
