// SPDX-License-Identifier: Apache-2.0
#include "config/document.h"

#include <algorithm>
#include <array>
#include <cstddef>

// The library asserts on some malformed input, such as "[/dev/ttyS0]". Without its assertions a
// proper parse error comes out; with NDEBUG it would be told instead that such input cannot occur.
// The prebuilt library has them compiled in, so this file takes the headers alone.
#undef NDEBUG
#undef TOML_SHARED_LIB
#undef TOML_HEADER_ONLY
#define TOML_HEADER_ONLY 1
#define TOML_ASSERT(condition) static_cast<void>(0)
#include <toml++/toml.h>

namespace brinegate::config {
namespace {

constexpr std::size_t longest_document = 1 << 20;

Position position_of(const toml::source_region& source) {
  // Implicit nodes have no position of their own.
  if (source.begin.line == 0)
    return {};
  return {static_cast<int>(source.begin.line), static_cast<int>(source.begin.column)};
}

Node converted(const toml::node& node);

Table converted(const toml::table& table) {
  Table members;
  for (const auto& [key, node] : table)
    members.push_back({std::string(key.str()), position_of(key.source()), converted(node)});
  std::stable_sort(members.begin(), members.end(),
                   [](const Member& a, const Member& b) { return a.at < b.at; });
  return members;
}

Array converted(const toml::array& array) {
  Array nodes;
  for (const auto& node : array)
    nodes.push_back(converted(node));
  return nodes;
}

Node converted(const toml::node& node) {
  Node result{position_of(node.source()), DateOrTime{}};
  if (const auto* table = node.as_table())
    result.value = converted(*table);
  else if (const auto* array = node.as_array())
    result.value = converted(*array);
  else if (const auto* text = node.as_string())
    result.value = text->get();
  else if (const auto* whole = node.as_integer())
    result.value = whole->get();
  else if (const auto* number = node.as_floating_point())
    result.value = number->get();
  else if (const auto* flag = node.as_boolean())
    result.value = flag->get();
  return result;
}

}  // namespace

bool Node::operator==(const Node& other) const {
  return value == other.value;
}

std::string_view kind_of(const Node& node) {
  constexpr std::array<std::string_view, std::variant_size_v<decltype(Node::value)>> kinds{
      "a date or time", "true or false", "a whole number", "a number", "text", "a list", "a table"};
  return kinds[node.value.index()];
}

Node parse_document(std::string_view text, Problems& problems) {
  if (text.size() > longest_document) {
    problems.error({}, "the file is larger than 1 MiB: this is not a configuration");
    return {{}, Table{}};
  }
  try {
    return {{}, converted(toml::parse(text))};
  } catch (const toml::parse_error& error) {
    problems.error(position_of(error.source()),
                   "this is not TOML: " + std::string(error.description()));
    return {{}, Table{}};
  }
}

}  // namespace brinegate::config
