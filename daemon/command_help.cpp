// SPDX-License-Identifier: Apache-2.0
#include "daemon/command_help.h"

#include <fmt/format.h>
#include <fmt/ostream.h>
#include <fmt/ranges.h>

#include "daemon/command_completion.h"
#include "daemon/command_manual.h"
#include "daemon/command_table.h"
#include "daemon/command_text.h"

namespace brinegate::daemon {
namespace {

std::string maybe_optional(bool required, std::string_view form) {
  return required ? std::string(form) : fmt::format("[{}]", form);
}

std::vector<std::string> usage_pieces(const Command& command) {
  std::vector<std::string> pieces{fmt::format("brinegate {}", command.words)};
  for (const Operand& operand : command.operands)
    pieces.push_back(maybe_optional(operand.required, operand.name));
  for (const Option& option : command.options)
    pieces.push_back(maybe_optional(option.required, option_form(option)) +
                     (option.repeatable ? "..." : ""));
  return pieces;
}

std::string commands_with_summaries(const CommandTable& table, std::string_view beginning) {
  std::vector<std::vector<std::string>> rows;
  for (const Command& command : table) {
    if (command.words.starts_with(beginning))
      rows.push_back({std::string(command.words), std::string(command.summary)});
  }
  return rows.empty() ? std::string() : aligned(rows);
}

ExitStatus help(const Arguments& arguments, Console& console) {
  const CommandTable table = commands();
  if (arguments.has("manual") || arguments.has("completion")) {
    console.out << (arguments.has("manual") ? manual_page(table) : bash_completion(table));
    return ExitStatus::Done;
  }
  if (arguments.operands().empty()) {
    console.out << overview(table);
    return ExitStatus::Done;
  }
  const std::string words = fmt::format("{} ", fmt::join(arguments.operands(), " "));
  if (const std::string below = commands_with_summaries(table, words); !below.empty()) {
    console.out << below;
    return ExitStatus::Done;
  }
  const auto command = find_command(table, arguments.operands());
  if (command) {
    console.out << help_of(*command.value());
    return ExitStatus::Done;
  }
  fmt::print(console.err, "brinegate: {}\n", command.error().message);
  return ExitStatus::Usage;
}

}  // namespace

std::string option_form(const Option& option) {
  if (option.example.empty())
    return fmt::format("--{}", option.name);
  const char* quote = option.example.find(' ') == std::string_view::npos ? "" : "\"";
  return fmt::format("--{} {}{}{}", option.name, quote, option.example, quote);
}

std::string usage_line(const Command& command) {
  return fmt::format("{}", fmt::join(usage_pieces(command), " "));
}

std::string overview(const CommandTable& table) {
  return "Proves that a batch of mixed sea water is what it should be, and keeps the\n"
         "water-change pump blocked unless it is.\n\n" +
         commands_with_summaries(table, "") +
         "\n"
         "`brinegate help COMMAND` says more. Quantities are written with their unit,\n"
         "in quotes where there is a space: --target \"35 ppt\".\n"
         "Exit status: 0 done; 1 refused or not met, reasons on the error stream;\n"
         "2 wrong usage or invalid input; 3 could not reach the daemon.\n";
}

std::string help_of(const Command& command) {
  std::string text = wrapped(command.summary, 0, 0) + "\n" + wrapped(usage_pieces(command), 4, 0);
  std::vector<std::vector<std::string>> rows;
  for (const Operand& operand : command.operands)
    rows.push_back({std::string(operand.name), std::string(operand.what)});
  for (const Option& option : command.options)
    rows.push_back({option_form(option), std::string(option.what)});
  if (!rows.empty())
    text += "\n" + aligned(rows);
  if (!command.notes.empty())
    text += "\n" + wrapped(command.notes, 0, 0);
  return text;
}

Command help_command() {
  return {.words = "help",
          .summary = "the commands, or one of them in full",
          .operands = {{"COMMAND", "its words, as in: help batch begin", false}},
          .options = {{"manual", "", "all of it as a manual page, the source for man"},
                      {"completion", "", "a script that completes commands in bash"}},
          .notes = {},
          .run = help,
          .any_operands = true};
}

}  // namespace brinegate::daemon
