// SPDX-License-Identifier: Apache-2.0
// Tables of contents in a profile: what its lots may bring, what a hand test must show.
#include <limits>
#include <utility>

#include <fmt/format.h>

#include "config/chemistry/content_words.h"
#include "config/load_sections.h"

namespace brinegate::config {
namespace {

constexpr std::string_view example = R"(alkalinity = ["7 dKH", "9 dKH"] or Cu = { to = "5 ug/L" })";

class ContentReader {
 public:
  ContentReader(std::string where, PracticalSalinity salinity, Problems& problems)
      : where_(std::move(where)), water_{salinity, Celsius(25.0), false}, problems_(problems) {}

  std::optional<ContentRange> range(const Node& node, const NamedAnalyte& of,
                                    const std::string& key) {
    if (std::holds_alternative<Table>(node.value))
      return open_range(node, of, key);
    const auto* list = std::get_if<Array>(&node.value);
    if (list == nullptr || list->size() != 2) {
      problems_.error(node.at, fmt::format("'{}' is {}: expected {}", key, kind_of(node), example));
      return std::nullopt;
    }
    return rising(node.at, content(list->front(), of), content(list->back(), of));
  }

 private:
  std::optional<ContentRange> open_range(const Node& node, const NamedAnalyte& of,
                                         const std::string& key) {
    TableReader reader(node, known::limit, where_ + "." + key, problems_);
    const Node* from = reader.find("from");
    const Node* to = reader.find("to");
    if (from == nullptr && to == nullptr) {
      problems_.error(node.at, fmt::format("'{}' has no limit: expected {}", key, example));
      return std::nullopt;
    }
    return rising(
        node.at, from == nullptr ? std::optional(0.0) : content(*from, of),
        to == nullptr ? std::optional(std::numeric_limits<double>::infinity()) : content(*to, of));
  }

  std::optional<double> content(const Node& node, const NamedAnalyte& of) {
    const auto* text = std::get_if<std::string>(&node.value);
    if (text == nullptr) {
      problems_.error(node.at, fmt::format("it is {}: expected text with a unit, such as {}",
                                           kind_of(node), example));
      return std::nullopt;
    }
    const auto value = parse_content(*text, of, water_);
    if (value && !value->content.censored())
      return value->content.low;
    problems_.error(node.at, value ? fmt::format("\"{}\" is no limit: write it without '<'", *text)
                                   : value.error().message);
    return std::nullopt;
  }

  std::optional<ContentRange> rising(Position at, std::optional<double> low,
                                     std::optional<double> high) {
    if (!low || !high)
      return std::nullopt;
    if (!(*low < *high)) {
      problems_.error(at, "it must rise: write the lower value first");
      return std::nullopt;
    }
    return ContentRange{*low, *high};
  }

  std::string where_;
  WaterOfSample water_;
  Problems& problems_;
};

}  // namespace

std::map<Analyte, ContentRange> read_content_ranges(const Node& node, const std::string& where,
                                                    PracticalSalinity salinity,
                                                    Problems& problems) {
  std::map<Analyte, ContentRange> ranges;
  const auto* table = std::get_if<Table>(&node.value);
  if (table == nullptr) {
    problems.error(node.at, fmt::format("'{}' is {}: expected a table with {}", where,
                                        kind_of(node), example));
    return ranges;
  }
  ContentReader reader(where, salinity, problems);
  for (const Member& member : *table) {
    const auto named = analyte_named(member.key);
    if (!named) {
      problems.error(member.at, unknown_analyte(member.key).message);
      continue;
    }
    const auto range = reader.range(member.node, *named, member.key);
    if (range && !ranges.emplace(named->analyte, *range).second)
      problems.error(member.at, fmt::format("{} is there twice: keep one", word(named->analyte)));
  }
  return ranges;
}

}  // namespace brinegate::config
