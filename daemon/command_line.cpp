// SPDX-License-Identifier: Apache-2.0
#include "daemon/command_line.h"

#include <algorithm>
#include <cstddef>
#include <optional>
#include <utility>

#include <fmt/format.h>
#include <fmt/ostream.h>
#include <fmt/ranges.h>

#include "config/nearest.h"
#include "daemon/command_help.h"

namespace brinegate::daemon {
namespace {

constexpr std::string_view help_option = "help";

std::vector<std::string_view> split_words(std::string_view words) {
  std::vector<std::string_view> parts;
  while (!words.empty()) {
    const std::size_t end = std::min(words.find(' '), words.size());
    parts.push_back(words.substr(0, end));
    words.remove_prefix(std::min(end + 1, words.size()));
  }
  return parts;
}

bool begins_with(const std::vector<std::string_view>& words,
                 const std::vector<std::string_view>& begin) {
  return words.size() >= begin.size() && std::equal(begin.begin(), begin.end(), words.begin());
}

// No command begins like this: names those that nearly do.
Error unknown_command(const CommandTable& table, const std::vector<std::string_view>& words) {
  std::vector<std::string> first_words;
  std::vector<std::string> second_words;
  for (const Command& command : table) {
    const auto parts = split_words(command.words);
    if (std::find(first_words.begin(), first_words.end(), parts[0]) == first_words.end())
      first_words.emplace_back(parts[0]);
    if (parts[0] == words[0] && parts.size() > 1)
      second_words.emplace_back(parts[1]);
  }
  if (second_words.empty())
    return {fmt::format("unknown command '{}': {}", words[0],
                        config::suggestion(words[0], first_words))};
  if (words.size() == 1)
    return {fmt::format("'{}' needs one of: {}", words[0], fmt::join(second_words, ", "))};
  return {fmt::format("unknown command '{} {}': {}", words[0], words[1],
                      config::suggestion(words[1], second_words))};
}

const Option* find_option(const Command& command, std::string_view name) {
  const auto found = std::find_if(command.options.begin(), command.options.end(),
                                  [name](const Option& option) { return option.name == name; });
  return found == command.options.end() ? nullptr : &*found;
}

Error unknown_option(const Command& command, std::string_view name) {
  std::vector<std::string> known;
  for (const Option& option : command.options)
    known.push_back(fmt::format("--{}", option.name));
  return {fmt::format("unknown option --{}: {}", name,
                      config::suggestion(fmt::format("--{}", name), known))};
}

// Reads the option at words[at]; moves `at` past it.
std::optional<Error> take_option(const Command& command, const std::vector<std::string_view>& words,
                                 std::size_t& at, Invocation& invocation) {
  const std::string_view text = words[at++].substr(2);
  const std::size_t equals = text.find('=');
  const std::string_view name = text.substr(0, equals);
  if (name == help_option) {
    invocation.help_asked = true;
    return std::nullopt;
  }
  const Option* option = find_option(command, name);
  if (option == nullptr)
    return unknown_option(command, name);
  if (invocation.arguments.has(name) && !option->repeatable)
    return Error{fmt::format("--{} is given twice; give it once", name)};
  if (option->example.empty()) {
    if (equals != std::string_view::npos)
      return Error{fmt::format("--{} is a switch and takes no value", name)};
    invocation.arguments.add_option(option->name, {});
    return std::nullopt;
  }
  std::string_view value;
  if (equals != std::string_view::npos) {
    value = text.substr(equals + 1);
  } else if (at < words.size() && !words[at].starts_with("--")) {
    value = words[at++];
  }
  if (value.empty())
    return Error{fmt::format("--{} needs a value, as in --{} \"{}\"", name, name, option->example)};
  invocation.arguments.add_option(option->name, value);
  return std::nullopt;
}

Error unexpected_operand(const Command& command, const std::vector<std::string_view>& words,
                         std::size_t at) {
  if (at >= 2 && words[at - 2].starts_with("--"))
    return {fmt::format("unexpected '{}': a value with a space stands in quotes, {} \"{} {}\"",
                        words[at], words[at - 2], words[at - 1], words[at])};
  return {fmt::format("unexpected '{}': write {}", words[at], usage_line(command))};
}

std::optional<Error> missing(const Command& command, const Arguments& given) {
  for (std::size_t i = given.operands().size(); i < command.operands.size(); ++i) {
    if (command.operands[i].required)
      return Error{fmt::format("{} is missing ({}): write {}", command.operands[i].name,
                               command.operands[i].what, usage_line(command))};
  }
  for (const Option& option : command.options) {
    if (option.required && !given.has(option.name))
      return Error{fmt::format("--{} is missing ({}), as in --{} \"{}\"", option.name, option.what,
                               option.name, option.example)};
  }
  return std::nullopt;
}

}  // namespace

std::string_view Arguments::option(std::string_view name) const {
  const auto found = options_.find(name);
  return found == options_.end() ? std::string_view() : found->second.front();
}

std::vector<std::string_view> Arguments::all(std::string_view name) const {
  const auto found = options_.find(name);
  return found == options_.end() ? std::vector<std::string_view>() : found->second;
}

std::string_view Arguments::operand(std::size_t index) const {
  return index < operands_.size() ? operands_[index] : std::string_view();
}

Result<const Command*> find_command(const CommandTable& table,
                                    const std::vector<std::string_view>& words) {
  for (const Command& command : table) {
    if (begins_with(words, split_words(command.words)))
      return &command;
  }
  return unknown_command(table, words);
}

Result<Invocation> parse_command_line(const CommandTable& table,
                                      const std::vector<std::string_view>& words) {
  const auto found = find_command(table, words);
  if (!found)
    return found.error();
  const Command* const command = found.value();
  Invocation invocation{.command = command, .arguments = {}};
  std::size_t at = split_words(command->words).size();
  while (at < words.size()) {
    if (words[at].starts_with("--")) {
      if (auto error = take_option(*command, words, at, invocation))
        return *std::move(error);
      continue;
    }
    if (!command->any_operands &&
        invocation.arguments.operands().size() == command->operands.size())
      return unexpected_operand(*command, words, at);
    invocation.arguments.add_operand(words[at++]);
  }
  if (!invocation.help_asked) {
    if (auto error = missing(*command, invocation.arguments))
      return *std::move(error);
  }
  return invocation;
}

ExitStatus run_command_line(const CommandTable& table, const std::vector<std::string_view>& words,
                            Console& console) {
  if (words.empty()) {
    console.err << overview(table);
    return ExitStatus::Usage;
  }
  if (words[0] == "--help" || words[0] == "-h") {
    console.out << overview(table);
    return ExitStatus::Done;
  }
  if (words[0] == "--version") {
    console.out << "brinegate " BRINEGATE_VERSION "\n";
    return ExitStatus::Done;
  }
  const auto invocation = parse_command_line(table, words);
  if (!invocation) {
    const auto command = find_command(table, words);
    fmt::print(console.err, "brinegate: {}\nSee: brinegate help{}\n", invocation.error().message,
               command ? fmt::format(" {}", command.value()->words) : "");
    return ExitStatus::Usage;
  }
  if (invocation->help_asked) {
    console.out << help_of(*invocation->command);
    return ExitStatus::Done;
  }
  return invocation->command->run(invocation->arguments, console);
}

}  // namespace brinegate::daemon
