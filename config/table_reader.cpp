// SPDX-License-Identifier: Apache-2.0
#include "config/table_reader.h"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "config/nearest.h"
#include "config/plain_text.h"

namespace brinegate::config {

TableReader::TableReader(const Node& node, const Section& section, std::string where,
                         Problems& problems)
    : table_(std::get_if<Table>(&node.value)),
      keys_(section.keys),
      json_(section.json),
      at_(node.at),
      where_(std::move(where)),
      problems_(problems) {
  if (table_)
    check_keys(*table_);
  else
    problems_.error(at_, fmt::format("'{}' is {}: expected a table", where_, kind_of(node)));
}

void TableReader::check_keys(const Table& table) {
  std::vector<std::string> names;
  for (const Key& key : keys_)
    names.emplace_back(key.name);
  const std::string in = where_.empty() ? "" : fmt::format(" in {}", where_);
  std::vector<std::string> meant;  // a mistyped key is not reported as missing too
  for (const Member& member : table) {
    if (std::find(names.begin(), names.end(), member.key) != names.end())
      continue;
    const bool is_table = std::holds_alternative<Table>(member.node.value);
    problems_.error(member.at,
                    fmt::format("unknown {} '{}'{}: {}", is_table ? "table" : "key",
                                in_short(member.key, 40), in, suggestion(member.key, names)));
    if (const auto known = nearest(member.key, names))
      meant.push_back(*known);
  }
  for (const Key& key : keys_)
    if (key.need == Need::Required && !has(key.name) &&
        std::find(meant.begin(), meant.end(), key.name) == meant.end())
      problems_.error(at_, fmt::format("'{}' is missing{}: write for example {}", key.name, in,
                                       example(key.name)));
}

const Node* TableReader::find(std::string_view key) const {
  if (!table_)
    return nullptr;
  const auto found = std::find_if(table_->begin(), table_->end(),
                                  [&](const Member& member) { return member.key == key; });
  return found == table_->end() ? nullptr : &found->node;
}

Position TableReader::at(std::string_view key) const {
  const Node* node = find(key);
  return node ? node->at : at_;
}

bool TableReader::read(std::string_view key, std::string& target) {
  const Node* node = find(key);
  if (!node)
    return false;
  const auto* text = std::get_if<std::string>(&node->value);
  if (!text) {
    wrong_type(key, *node, "text");
    return false;
  }
  if (text->empty()) {
    error(key, fmt::format("{}it is empty: write for example {}", in_words(key), example(key)));
    return false;
  }
  target = *text;
  return true;
}

bool TableReader::read(std::string_view key, bool& target) {
  const Node* node = find(key);
  if (!node)
    return false;
  const auto* flag = std::get_if<bool>(&node->value);
  if (!flag) {
    wrong_type(key, *node, "true or false without quotes");
    return false;
  }
  target = *flag;
  return true;
}

bool TableReader::read(std::string_view key, double& target) {
  const Node* node = find(key);
  if (!node)
    return false;
  if (const auto* whole = std::get_if<std::int64_t>(&node->value)) {
    target = static_cast<double>(*whole);
    return true;
  }
  const auto* number = std::get_if<double>(&node->value);
  if (!number || !std::isfinite(*number)) {
    wrong_type(key, *node, "a finite number without quotes");
    return false;
  }
  target = *number;
  return true;
}

bool TableReader::read_whole(std::string_view key, std::int64_t low, std::int64_t high,
                             std::int64_t& target) {
  const Node* node = find(key);
  if (!node)
    return false;
  const auto* whole = std::get_if<std::int64_t>(&node->value);
  if (!whole) {
    wrong_type(key, *node, "a whole number without quotes");
    return false;
  }
  if (*whole < low || *whole > high) {
    error(key, fmt::format("{}{} is out of range: write a whole number from {} to {}",
                           in_words(key), *whole, low, high));
    return false;
  }
  target = *whole;
  return true;
}

bool TableReader::read_list(std::string_view key, const Array*& target) {
  const Node* node = find(key);
  if (!node)
    return false;
  const auto* list = std::get_if<Array>(&node->value);
  if (!list || list->empty()) {
    wrong_type(key, *node, "a list");
    return false;
  }
  target = list;
  return true;
}

void TableReader::refuse(std::string_view key, std::string_view reason) {
  if (has(key))
    error(key, fmt::format("'{}' does not belong here: {}", key, reason));
}

void TableReader::wrong_type(std::string_view key, const Node& node, std::string_view expected) {
  const auto* list = std::get_if<Array>(&node.value);
  problems_.error(node.at, fmt::format("'{}' is {}: expected {}, such as {}", key,
                                       list && list->empty() ? "an empty list" : kind_of(node),
                                       expected, example(key)));
}

const Array* TableReader::pair_of(std::string_view key) {
  const Node* node = find(key);
  if (!node)
    return nullptr;
  const auto* list = std::get_if<Array>(&node->value);
  if (list && list->size() == 2)
    return list;
  wrong_type(key, *node, "a list of the lowest and the highest");
  return nullptr;
}

bool TableReader::rising(std::string_view key, bool is_rising) {
  if (!is_rising)
    error(key, fmt::format("'{}' must rise: write the lower value first, such as {}", key,
                           example(key)));
  return is_rising;
}

const std::string* TableReader::quantity_text(std::string_view key, const Node& node) {
  const auto* text = std::get_if<std::string>(&node.value);
  if (!text)
    wrong_type(key, node, "text with a unit");
  return text;
}

void TableReader::out_of_range(std::string_view key, const Node& node, std::string_view text,
                               Range range) {
  problems_.error(node.at,
                  fmt::format("{}\"{}\" is out of range: write a value from \"{}\" to \"{}\"",
                              in_words(key), text, range.low, range.high));
}

void TableReader::unknown_word(std::string_view key, std::string_view text,
                               const std::vector<std::string>& known) {
  error(key, fmt::format("{}\"{}\" is not one of its words: {}", in_words(key), text,
                         suggestion(text, known)));
}

std::string TableReader::example(std::string_view key) const {
  const auto found =
      std::find_if(keys_.begin(), keys_.end(), [&](const Key& known) { return known.name == key; });
  if (found == keys_.end() || (found->example.front() == '[' && found->example.back() == ']' &&
                               found->example.find_first_of(" \"") == std::string_view::npos))
    return std::string(found == keys_.end() ? key : found->example);
  if (json_)
    return fmt::format("\"{}\": {}", key, found->example);
  return fmt::format("{} = {}", key, found->example);
}

std::string TableReader::in_words(std::string_view key) {
  return fmt::format("'{}': ", key);
}

bool check_name(std::string_view name, std::string_view what, Position at, Problems& problems) {
  constexpr std::string_view allowed = "abcdefghijklmnopqrstuvwxyz0123456789_-";
  constexpr std::size_t longest = 64;
  if (!name.empty() && name.size() <= longest &&
      name.find_first_not_of(allowed) == std::string_view::npos)
    return true;
  problems.error(at, fmt::format("'{}' cannot name a {}: write up to {} of a-z, 0-9, '_' and '-'",
                                 name, what, longest));
  return false;
}

}  // namespace brinegate::config
