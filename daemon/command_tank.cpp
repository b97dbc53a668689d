// SPDX-License-Identifier: Apache-2.0
#include "daemon/command_tank.h"

#include <string>
#include <utility>

#include <fmt/format.h>
#include <fmt/ostream.h>
#include <nlohmann/json.hpp>

#include "config/chemistry/tank_text.h"
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

// What changes the record is about a tank on record, never about a file.
constexpr Operand stored_tank{"TANK", "its name on record"};

ExitStatus add(const Arguments& arguments, Console& console) {
  const auto text = read_file(arguments.operand(0), console);
  if (!text)
    return ExitStatus::Usage;
  const std::string file(arguments.operand(0));
  if (const auto read = config::read_tank(*text, file); !read.tank) {
    tell_problems(read.errors, console);
    return ExitStatus::Usage;
  }
  return tell_answer(
      arguments,
      change_library(
          arguments,
          {{"do", "tank add"}, {"text", *text}, {"file", file}, {"by", person(arguments)}},
          console),
      console);
}

ExitStatus list(const Arguments& arguments, Console& console) {
  LibraryAccess access(arguments, console);
  const Library* const library = access.on_record();
  if (library == nullptr)
    return access.status();
  Json all = Json::array();
  for (const Tank& tank : library->tanks())
    all.push_back(tank_summary(tank));
  const Json view{{"tanks", all}};
  return print_view(arguments, view, tanks_text(view), console);
}

ExitStatus test(const Arguments& arguments, Console& console) {
  OptionReader reader(arguments, console);
  config::TestParticulars particulars;
  particulars.at = reader.find("at", config::parse_time);
  particulars.salinity = reader.find("salinity", config::parse_salinity);
  const auto text = reader.all_read() ? read_file(arguments.operand(1), console) : std::nullopt;
  if (!text)
    return ExitStatus::Usage;
  const std::string file(arguments.operand(1));
  const auto read = config::read_water_test(*text, file, particulars);
  tell_unread(read.unread, console);
  if (!read.test) {
    tell_problems(read.errors, console);
    return ExitStatus::Usage;
  }
  nlohmann::json request{{"do", "tank test"},
                         {"tank", arguments.operand(0)},
                         {"text", *text},
                         {"file", file},
                         {"by", person(arguments)}};
  put_options(arguments, {"at", "salinity"}, request);
  return tell_added(arguments, change_library(arguments, std::move(request), console),
                    read.test->assay, console);
}

ExitStatus show(const Arguments& arguments, Console& console) {
  LibraryAccess access(arguments, console);
  const auto tank = access.tank(arguments.operand(0));
  if (!tank)
    return access.status();
  const Json view = tank_view(*tank, drivers::wall_now());
  return print_view(arguments, view, tank_text(view, glyphs_of_environment()), console);
}

ExitStatus forecast(const Arguments& arguments, Console& console) {
  LibraryAccess access(arguments, console);
  const auto tank = access.tank(arguments.operand(0));
  const auto lot = tank ? access.lot(arguments.option("lot")) : std::nullopt;
  if (!tank || !lot)
    return access.status();
  const auto plan = read_plan(arguments, *tank, console);
  if (!plan)
    return ExitStatus::Usage;
  const Json view = forecast_view(*tank, *lot, *plan, drivers::wall_now());
  return print_view(arguments, view, forecast_text(view, glyphs_of_environment()), console);
}

ExitStatus change(const Arguments& arguments, Console& console) {
  OptionReader reader(arguments, console);
  reader.find("volume", config::parse_volume);
  reader.find("salinity", config::parse_salinity);
  reader.find("at", config::parse_time);
  if (!reader.all_read())
    return ExitStatus::Usage;
  nlohmann::json request{{"do", "tank change"}, {"tank", arguments.operand(0)}};
  put_options(arguments, {"volume", "lot", "salinity", "at"}, request);
  return tell_answer(arguments, change_library(arguments, std::move(request), console), console);
}

ExitStatus review(const Arguments& arguments, Console& console) {
  LibraryAccess access(arguments, console);
  const auto tank = access.tank(arguments.operand(0));
  if (!tank)
    return access.status();
  const Json view = outcome_view(*tank);
  print_view(arguments, view, review_text(view), console);
  const Json& outcomes = view.at("outcomes");
  const bool all_agree = std::all_of(outcomes.begin(), outcomes.end(), [](const Json& outcome) {
    return outcome.at("agrees").get<bool>();
  });
  return all_agree ? ExitStatus::Done : ExitStatus::Refused;
}

Command add_command() {
  return {.words = "tank add",
          .summary = "put a tank on record, or new particulars of it",
          .operands = {{"FILE", "JSON: its volume, salinity and what is wanted of its water"}},
          .options = {by_option, config_option, json_option},
          .notes = "Its tests and changes stay as they are.",
          .run = add};
}

Command list_command() {
  return {.words = "tank list",
          .summary = "the tanks on record",
          .operands = {},
          .options = {config_option, json_option},
          .notes = {},
          .run = list};
}

Command test_command() {
  return {.words = "tank test",
          .summary = "put a water test of a tank on record",
          .operands = {stored_tank,
                       {"FILE", "JSON, CSV or a pasted table; - reads the standard input"}},
          .options = {{"at", "2026-11-02T18:00",
                       "when it was drawn (UTC), where the file does not "
                       "say it"},
                      {"salinity", "34.8 ppt", "of the tank then, where the file does not say it"},
                      by_option,
                      config_option,
                      json_option},
          .notes = {},
          .run = test};
}

Command show_command() {
  return {
      .words = "tank show",
      .summary = "what a tank has, what is wanted of it, what it uses up",
      .operands = {tank_operand},
      .options = {test_option, config_option, json_option},
      .notes = "What it has now is its latest test with the changes and what was used up since.",
      .run = show};
}

Command forecast_command() {
  return {.words = "tank forecast",
          .summary = "what water changes with a lot do to a tank, element by element",
          .operands = {tank_operand},
          .options = joined(
              {{"lot", "LOT", "a name on record, or a file of its analysis", true}, test_option},
              joined(plan_options(), {config_option, json_option})),
          .notes =
              "In the JSON, \"course\" has every change; uncertainties are standard ones, "
              "at_least and at_most hold the truth in 95 of 100 cases.",
          .run = forecast};
}

Command change_command() {
  return {.words = "tank change",
          .summary = "note a water change that was made by hand",
          .operands = {stored_tank},
          .options = {{"volume", "80 L", "that was changed", true},
                      {"lot", "H-2291", "the new water was mixed from; a name on record"},
                      {"salinity", "35 ppt", "of the new water; else the tank's"},
                      {"at", "2026-11-02T18:00", "when it ended (UTC); else now"},
                      config_option,
                      json_option},
          .notes = {},
          .run = change};
}

Command review_command() {
  return {.words = "tank review",
          .summary = "whether the latest water test is what the changes should have done",
          .operands = {tank_operand},
          .options = {test_option, config_option, json_option},
          .notes = "Status 1 where an element is not what was foretold.",
          .run = review};
}

}  // namespace

std::vector<Command> tank_commands() {
  return {add_command(),      list_command(),   test_command(),  show_command(),
          forecast_command(), change_command(), review_command()};
}

}  // namespace brinegate::daemon
