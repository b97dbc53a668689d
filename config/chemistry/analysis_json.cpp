// SPDX-License-Identifier: Apache-2.0
// The values and particulars of an analysis in JSON.
#include <fmt/format.h>

#include "config/chemistry/analysis.h"
#include "config/chemistry/json_keys.h"
#include "config/table_reader.h"

namespace brinegate::config {
namespace {

constexpr std::size_t most_values = 200;

// As it was written: a number by its digits, so that one message speaks of what is missing from it.
std::optional<std::string> text_of(const Node& node) {
  if (const auto* text = std::get_if<std::string>(&node.value))
    return *text;
  if (const auto* whole = std::get_if<std::int64_t>(&node.value))
    return fmt::format("{}", *whole);
  if (const auto* number = std::get_if<double>(&node.value))
    return fmt::format("{}", *number);
  return std::nullopt;
}

bool read_text(const Node& node, std::string_view what, std::string& target, Problems& problems) {
  const auto text = text_of(node);
  if (!text || trimmed(*text).empty()) {
    problems.error(
        node.at, fmt::format("'{}' is {}: expected text, such as \"421 mg/L\"", in_short(what, 40),
                             text ? "empty" : std::string(kind_of(node))));
    return false;
  }
  target = *text;
  return true;
}

// One text, or several as a list.
bool read_replicates(const Node& node, std::string_view what, AnalysisRow& row,
                     Problems& problems) {
  const auto* list = std::get_if<Array>(&node.value);
  if (!list)
    return read_text(node, what, row.values.emplace_back(), problems);
  if (list->empty()) {
    problems.error(node.at, fmt::format("'{}' is an empty list: write its values, such as "
                                        "[\"396 mg/L\", \"401 mg/L\"]",
                                        what));
    return false;
  }
  bool all = true;
  for (const Node& replicate : *list)
    all = read_text(replicate, what, row.values.emplace_back(), problems) && all;
  return all;
}

bool read_row(const Member& member, AnalysisRow& row, Problems& problems) {
  if (!std::holds_alternative<Table>(member.node.value))
    return read_replicates(member.node, member.key, row, problems);
  const TableReader parts(member.node, json_keys::value, in_short(member.key, 40), problems);
  const Node* value = parts.find("value");
  bool read = value && read_replicates(*value, member.key, row, problems);
  for (const auto& [key, target] : {std::pair{"uncertainty", &row.uncertainty},
                                    std::pair{"detection_limit", &row.detection_limit}})
    if (const Node* part = parts.find(key))
      read = read_text(*part, key, *target, problems) && read;
  return read;
}

}  // namespace

void read_values(const Node& values, AnalysisText& into, Problems& problems) {
  const auto* table = std::get_if<Table>(&values.value);
  if (!table) {
    problems.error(values.at, fmt::format("'values' is {}: expected a table, such as "
                                          "{{ \"Ca\": \"421 mg/L\" }}",
                                          kind_of(values)));
    return;
  }
  if (table->size() > most_values) {
    problems.error(values.at,
                   fmt::format("'values' has more than {} entries, but there are only {} "
                               "analytes",
                               most_values, analyte_count));
    return;
  }
  for (const Member& member : *table) {
    const auto named = analyte_named(member.key);
    if (!named) {
      problems.error(member.at, unknown_analyte(member.key).message);
      continue;
    }
    AnalysisRow row;
    row.at = member.at;
    row.of = *named;
    if (read_row(member, row, problems))
      into.rows.push_back(std::move(row));
  }
}

void read_particular(const Table& table, std::string_view key, Particular particular,
                     AnalysisText& into, Problems& problems) {
  for (const Member& member : table) {
    std::string text;
    if (member.key == key && read_text(member.node, key, text, problems))
      into.particulars[particular] = {text, member.node.at};
  }
}

}  // namespace brinegate::config
