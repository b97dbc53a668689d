// SPDX-License-Identifier: Apache-2.0
// A command line as one table of options, from which the help is made too. Every option takes a
// value.
#pragma once

#include <algorithm>
#include <array>
#include <charconv>
#include <span>
#include <string>
#include <string_view>
#include <system_error>

#include <fmt/format.h>

#include "rules/result.h"

namespace brinegate::sim {

template <class Options>
struct Option {
  std::string_view name;
  std::string_view takes;
  std::string_view does;
  Result<Done> (*set)(Options&, std::string_view);  // its error says what is wrong with the value
};

template <class Number>
Result<Number> parse_number(std::string_view text, Number low, Number high) {
  Number number{};
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), number);
  if (error != std::errc() || end != text.data() + text.size() || !(number >= low) ||
      !(number <= high))
    return Error{fmt::format("\"{}\" is not a number from {} to {}", text, low, high)};
  return number;
}

template <class Place, class T>
Result<Done> take(Place& place, const Result<T>& value) {
  if (!value.ok())
    return value.error();
  place = *value;
  return Done{};
}

// A name of anything: not empty.
inline Result<std::string> parse_name(std::string_view text) {
  if (text.empty())
    return Error{"is empty"};
  return std::string(text);
}

// Into `options`, which holds the defaults.
template <class Options, std::size_t N>
Result<Done> take_options(std::string_view command, const std::array<Option<Options>, N>& table,
                          std::span<const std::string_view> words, Options& options) {
  for (std::size_t i = 0; i < words.size(); i += 2) {
    const auto* const option = std::ranges::find(table, words[i], &Option<Options>::name);
    if (option == table.end())
      return Error{fmt::format("{0} has no option \"{1}\"; see brinegate-sim {0} --help", command,
                               words[i])};
    if (i + 1 == words.size())
      return Error{fmt::format("{} needs a value: {}", option->name, option->does)};
    if (const auto set = option->set(options, words[i + 1]); !set.ok())
      return Error{fmt::format("{}: {}", option->name, set.error().message)};
  }
  return Done{};
}

template <class Options, std::size_t N>
std::string options_help(const std::array<Option<Options>, N>& table) {
  std::string text;
  for (const auto& option : table)
    text +=
        fmt::format("  {:<26} {}\n", fmt::format("{} {}", option.name, option.takes), option.does);
  return text;
}

}  // namespace brinegate::sim
