// SPDX-License-Identifier: Apache-2.0
#include "daemon/command_lot.h"

#include <string>
#include <utility>

#include <fmt/format.h>
#include <fmt/ostream.h>
#include <nlohmann/json.hpp>

#include "config/chemistry/lot_text.h"
#include "config/quantity.h"
#include "config/wall_time.h"
#include "daemon/chemistry_text.h"
#include "daemon/command_ask.h"
#include "daemon/command_options.h"
#include "daemon/command_plan.h"
#include "daemon/engine/lot_view.h"
#include "daemon/engine/tank_view.h"
#include "daemon/library_access.h"
#include "drivers/clock.h"

namespace brinegate::daemon {
namespace {

std::optional<config::LotParticulars> read_particulars(const Arguments& arguments,
                                                       Console& console) {
  OptionReader reader(arguments, console);
  config::LotParticulars particulars;
  particulars.name = arguments.option("name");
  particulars.salt = arguments.option("salt");
  particulars.salinity = reader.find("salinity", config::parse_salinity);
  particulars.expires = reader.find("expires", config::parse_last_day);
  particulars.dry_fraction = reader.find("dry-fraction", config::parse_share);
  return reader.all_read() ? std::optional(std::move(particulars)) : std::nullopt;
}

ExitStatus add(const Arguments& arguments, Console& console) {
  const auto particulars = read_particulars(arguments, console);
  const auto text = particulars ? read_file(arguments.operand(0), console) : std::nullopt;
  if (!text)
    return ExitStatus::Usage;
  const std::string file(arguments.operand(0));
  const auto read = config::read_lot(*text, file, *particulars);
  tell_unread(read.unread, console);
  if (!read.lot) {
    tell_problems(read.errors, console);
    return ExitStatus::Usage;
  }
  nlohmann::json request{
      {"do", "lot add"}, {"text", *text}, {"file", file}, {"by", person(arguments)}};
  put_options(arguments, {"name", "salt", "salinity", "expires"}, request);
  if (particulars->dry_fraction)
    request["dry_fraction"] = *particulars->dry_fraction;
  return tell_added(arguments, change_library(arguments, std::move(request), console),
                    read.lot->assay, console);
}

ExitStatus unlearn(const Arguments& arguments, Console& console) {
  return ask_and_tell(
      arguments, {{"do", "lot unlearn"}, {"lot", arguments.operand(0)}, {"by", person(arguments)}},
      console);
}

ExitStatus list(const Arguments& arguments, Console& console) {
  LibraryAccess access(arguments, console);
  const Library* const library = access.on_record();
  if (library == nullptr)
    return access.status();
  Json all = Json::array();
  for (const Lot& lot : library->lots())
    all.push_back(lot_summary(lot));
  const Json view{{"lots", all}};
  return print_view(arguments, view, lots_text(view), console);
}

ExitStatus show(const Arguments& arguments, Console& console) {
  OptionReader reader(arguments, console);
  const auto salinity = reader.find("salinity", config::parse_salinity);
  if (!reader.all_read())
    return ExitStatus::Usage;
  LibraryAccess access(arguments, console);
  const auto lot = access.lot(arguments.operand(0));
  if (!lot)
    return access.status();
  const Json view = lot_view(*lot, salinity.value_or(lot->assay.salinity));
  return print_view(arguments, view, lot_text(view), console);
}

ExitStatus compare(const Arguments& arguments, Console& console) {
  OptionReader reader(arguments, console);
  const auto salinity = reader.find("salinity", config::parse_salinity);
  if (!reader.all_read())
    return ExitStatus::Usage;
  LibraryAccess access(arguments, console);
  const auto lots = access.lots(arguments.operands());
  const bool with_tank = arguments.has("tank");
  const auto tank = lots && with_tank ? access.tank(arguments.option("tank")) : std::nullopt;
  if (!lots || (with_tank && !tank))
    return access.status();
  const PracticalSalinity at = salinity.value_or(tank ? tank->salinity : composition_salinity);
  const Json view = compare_view(*lots, tank ? &*tank : nullptr, at, drivers::wall_now());
  return print_view(arguments, view, comparison_text(view, glyphs_of_environment()), console);
}

std::optional<std::vector<Lot>> lots_to_rank(const Arguments& arguments, LibraryAccess& access) {
  if (!arguments.operands().empty())
    return access.lots(arguments.operands());
  const Library* const library = access.on_record();
  return library == nullptr ? std::nullopt : std::optional(library->lots());
}

ExitStatus rank(const Arguments& arguments, Console& console) {
  LibraryAccess access(arguments, console);
  const auto tank = access.tank(arguments.option("tank"));
  if (!tank)
    return access.status();
  const auto plan = read_plan(arguments, *tank, console);
  if (!plan)
    return ExitStatus::Usage;
  const auto lots = lots_to_rank(arguments, access);
  if (!lots)
    return access.status();
  const Json view = rank_view(*tank, *lots, *plan, drivers::wall_now());
  print_view(arguments, view, ranking_text(view, glyphs_of_environment()), console);
  const Json& ranked = view.at("lots");
  return ranked.empty() || !ranked.front().at("vetoes").empty() ? ExitStatus::Refused
                                                                : ExitStatus::Done;
}

Command add_command() {
  return {.words = "lot add",
          .summary = "put a lot's analysis on record",
          .operands = {{"FILE", "JSON, CSV or a pasted table; - reads the standard input"}},
          .options = {{"name", "H-2291", "of the lot, where the file does not say it"},
                      {"salt", "Harbour blend", "the salt mix it is a lot of"},
                      {"salinity", "35 ppt", "of the sample that was analysed"},
                      {"expires", "2029-03-02", "its last day"},
                      {"dry-fraction", "0.93", "share of the product that is anhydrous sea salt"},
                      by_option,
                      config_option,
                      json_option},
          .notes =
              "What is on record of a lot never changes: a second analysis makes its next "
              "version, and batches keep the one they used. Where a line cannot be read, "
              "each such line is named and nothing is stored.",
          .run = add};
}

Command unlearn_command() {
  return {.words = "lot unlearn",
          .summary = "take back what a lot's batches taught of its yield",
          .operands = {{lot_operand.name, "the name that its batches began with"}},
          .options = {by_option, config_option, json_option},
          .notes =
              "Where batches were not weighed in as noted, what was learned from them makes "
              "each right dose look wrong. The next batch of the lot counts as the first; a "
              "batch in progress goes by what it began with.",
          .run = unlearn};
}

Command list_command() {
  return {.words = "lot list",
          .summary = "the lots on record",
          .operands = {},
          .options = {config_option, json_option},
          .notes = {},
          .run = list};
}

Command show_command() {
  return {.words = "lot show",
          .summary = "a lot's analysis, at any salinity, and whether it can be true",
          .operands = {lot_operand},
          .options = {{"salinity", "35 ppt", "of the water mixed from it; else as analysed"},
                      config_option,
                      json_option},
          .notes = {},
          .run = show};
}

Command compare_command() {
  return {.words = "lot compare",
          .summary = "lots side by side, against a tank and what is wanted of it",
          .operands = {lot_operand},
          .options = {{"tank", "TANK", "a name on record, or a file of its particulars"},
                      test_option,
                      {"salinity", "35 ppt", "of the water; else the tank's, else 35 PSU"},
                      config_option,
                      json_option},
          .notes = {},
          .run = compare,
          .any_operands = true};
}

Command rank_command() {
  return {
      .words = "lot rank",
      .summary = "which lot does a tank most good",
      .operands = {{lot_operand.name, "as for `lot show`; without any, all on record", false}},
      .options = joined(
          {{"tank", "TANK", "a name on record, or a file of its particulars", true}, test_option},
          joined(plan_options(), {config_option, json_option})),
      .notes =
          "A score of 0 is best: the plan leaves all that is wanted within its range. "
          "Status 1 where no lot may be used.",
      .run = rank,
      .any_operands = true};
}

}  // namespace

std::vector<Command> lot_commands() {
  return {add_command(),  unlearn_command(), list_command(),
          show_command(), compare_command(), rank_command()};
}

}  // namespace brinegate::daemon
