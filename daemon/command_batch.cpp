// SPDX-License-Identifier: Apache-2.0
#include "daemon/command_batch.h"

#include <optional>
#include <utility>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "config/quantity.h"
#include "daemon/command_ask.h"
#include "daemon/command_options.h"
#include "daemon/command_record.h"

namespace brinegate::daemon {
namespace {

// "H-2291=5 kg": how much of which lot.
std::optional<nlohmann::json> lot_taken(std::string_view written, OptionReader& reader) {
  const std::size_t equals = written.rfind('=');
  const std::string_view salt =
      equals == std::string_view::npos ? std::string_view() : written.substr(equals + 1);
  if (const auto mass = config::parse_mass(salt); !mass) {
    reader.refuse("lot", salt.empty()
                             ? fmt::format("of several lots each needs its mass: write \"{}=5 kg\"",
                                           written.substr(0, equals))
                             : mass.error().message);
    return std::nullopt;
  }
  return nlohmann::json{{"lot", written.substr(0, equals)}, {"salt", salt}};
}

// One lot with --salt, or lots that each bring their mass along.
void put_lots(const Arguments& arguments, OptionReader& reader, nlohmann::json& request) {
  const auto lots = arguments.all("lot");
  if (lots.size() == 1 && lots.front().find('=') == std::string_view::npos) {
    put_options(arguments, {"lot", "salt"}, request);
    return;
  }
  if (arguments.has("salt"))
    reader.refuse("salt", "stands with each --lot already: write one of the two");
  request["lots"] = nlohmann::json::array();
  for (const std::string_view written : lots)
    if (auto taken = lot_taken(written, reader))
      request["lots"].push_back(std::move(*taken));
}

ExitStatus begin(const Arguments& arguments, Console& console) {
  nlohmann::json request{{"station", arguments.operand(0)}, {"do", "begin"}};
  put_options(arguments, {"profile"}, request);
  OptionReader reader(arguments, console);
  put_lots(arguments, reader, request);
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
  put_options(arguments, {"salt", "lot", "water", "removed", "salt-total", "text"}, request);
  if (request.size() == before) {
    console.err << "brinegate: nothing to note: give --salt, --water, --removed, --salt-total or "
                   "--text\n";
    return ExitStatus::Usage;
  }
  return ask_and_tell(arguments, std::move(request), console);
}

ExitStatus test(const Arguments& arguments, Console& console) {
  return ask_and_tell(arguments,
                      {{"station", arguments.operand(0)},
                       {"do", "test"},
                       {"analyte", arguments.operand(1)},
                       {"value", arguments.operand(2)}},
                      console);
}

ExitStatus waive(const Arguments& arguments, Console& console) {
  nlohmann::json request{
      {"station", arguments.operand(0)}, {"do", "waive"}, {"check", arguments.operand(1)}};
  put_options(arguments, {"by", "reason", "for"}, request);
  return ask_and_tell(arguments, std::move(request), console);
}

ExitStatus unwaive(const Arguments& arguments, Console& console) {
  return ask_and_tell(
      arguments,
      {{"station", arguments.operand(0)}, {"do", "unwaive"}, {"check", arguments.operand(1)}},
      console);
}

ExitStatus abandon(const Arguments& arguments, Console& console) {
  return ask_and_tell(arguments, {{"station", arguments.operand(0)}, {"do", "abandon"}}, console);
}

Command begin_command() {
  return {.words = "batch begin",
          .summary = "begin a batch: its lot, its profile, the salt weighed in",
          .operands = {station_operand},
          .options = {{"lot", "H-2291",
                       "production lot of the salt; with \"H-2291=5 kg\" its mass, where the batch "
                       "has several",
                       true, true},
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
              "proven batches, else what is stated with it on record. The rest of one bucket and "
              "the start of the next are given as --lot \"H-2291=5 kg\" --lot \"H-2304=2.4 kg\".",
          .run = begin};
}

Command note_command() {
  return {.words = "batch note",
          .summary = "note what was added to the batch or taken out",
          .operands = {station_operand},
          .options = {{"salt", "86 g", "added"},
                      {"lot", "NAME", "that this salt is of, where not of the batch's last"},
                      {"water", "2 L", "fresh water added"},
                      {"removed", "3 L", "water taken out"},
                      {"salt-total", "7.4 kg", "all salt so far, in place of what was noted"},
                      {"text", "stirred by hand", "anything else worth knowing"},
                      config_option,
                      json_option},
          .notes = "Whatever changes the water voids the proof until it has been judged again.",
          .run = note};
}

Command test_command() {
  return {.words = "batch test",
          .summary = "enter what was tested by hand in the batch's water",
          .operands = {station_operand,
                       {"ANALYTE", "its name or symbol: alkalinity, Ca, nitrate"},
                       {"VALUE", "with its unit: \"8.1 dKH\", \"421 mg/L\", \"< 2 ug/L\""}},
          .options = {config_option, json_option},
          .notes = "Where the profile asks for hand tests, the batch waits for them.",
          .run = test};
}

constexpr Operand check_operand{"CHECK", "its name as in `brinegate status`, as temperature"};

Command waive_command() {
  return {.words = "batch waive",
          .summary = "let one check pass for a while, where the batch's profile allows it",
          .operands = {station_operand, check_operand},
          .options = {{"by", "Ada", "who answers for it", true},
                      {"reason", "the heater is on its way", "why", true},
                      {"for", "2 h", "how long: up to 24 h", true},
                      config_option,
                      json_option},
          .notes =
              "Name, reason and end stand in the record, with the proof and with every permit. "
              "A waiver ends by itself, with the batch, and at every restart. Readings, "
              "salinity, level, leak and read-back can be waived by nobody.",
          .run = waive};
}

Command unwaive_command() {
  return {.words = "batch unwaive",
          .summary = "take a waiver back",
          .operands = {station_operand, check_operand},
          .options = {config_option, json_option},
          .notes = {},
          .run = unwaive};
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
  return {begin_command(),   note_command(),    test_command(),       waive_command(),
          unwaive_command(), abandon_command(), batch_list_command(), batch_report_command()};
}

}  // namespace brinegate::daemon
