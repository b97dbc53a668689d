// SPDX-License-Identifier: Apache-2.0
#include "drivers/reading_json.h"

#include <cmath>

#include <nlohmann/json.hpp>

#include "config/wall_time.h"

namespace brinegate::drivers {

namespace {

using Json = nlohmann::json;

bool same_word(std::string_view text, std::string_view lower_case_word) {
  if (text.size() != lower_case_word.size()) {
    return false;
  }
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    if ((c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c) != lower_case_word[i]) {
      return false;
    }
  }
  return true;
}

std::optional<double> contact_word(std::string_view text) {
  if (same_word(text, "on")) {
    return 1.0;
  }
  if (same_word(text, "off")) {
    return 0.0;
  }
  return std::nullopt;
}

std::optional<double> number_of(const Json& node, bool contact) {
  if (node.is_number()) {
    const auto value = node.get<double>();
    return std::isfinite(value) ? std::optional(value) : std::nullopt;
  }
  if (contact && node.is_boolean()) {
    return node.get<bool>() ? 1.0 : 0.0;
  }
  if (contact && node.is_string()) {
    return contact_word(node.get_ref<const std::string&>());
  }
  return std::nullopt;
}

// The node, or nullptr where there is none. An ill-formed pointer finds nothing.
const Json* find(const Json& document, const std::string& pointer) {
  try {
    const Json::json_pointer where(pointer);
    return document.contains(where) ? &document.at(where) : nullptr;
  } catch (const Json::exception&) {
    return nullptr;
  }
}

std::optional<WallTime> time_of(const Json& node) {
  if (node.is_number()) {
    return from_unix_seconds(node.get<double>());
  }
  if (node.is_string()) {
    return config::parse_iso8601(node.get_ref<const std::string&>());
  }
  return std::nullopt;
}

}  // namespace

bool within_json_limits(std::string_view text) {
  if (text.size() > longest_json) {
    return false;
  }
  int depth = 0;
  bool in_string = false;
  bool escaped = false;
  for (const char c : text) {
    if (in_string) {
      in_string = escaped || c != '"';
      escaped = !escaped && c == '\\';
    } else if (c == '"') {
      in_string = true;
    } else if (c == '[' || c == '{') {
      if (++depth > deepest_json) {
        return false;
      }
    } else if (c == ']' || c == '}') {
      --depth;
    }
  }
  return true;
}

std::optional<ParsedReading> parse_reading(std::string_view text, const ReadingShape& shape) {
  if (!within_json_limits(text)) {
    return std::nullopt;
  }
  const Json document = Json::parse(text, nullptr, false);
  if (document.is_discarded()) {
    const auto word = shape.value.empty() && shape.contact ? contact_word(text) : std::nullopt;
    return word ? std::optional(ParsedReading{*word, std::nullopt, false}) : std::nullopt;
  }
  const Json* value_node = find(document, shape.value);
  const auto value = value_node != nullptr ? number_of(*value_node, shape.contact) : std::nullopt;
  if (!value) {
    return std::nullopt;
  }
  ParsedReading reading{*value, std::nullopt, false};
  const Json* time_node = shape.time.empty() ? nullptr : find(document, shape.time);
  if (time_node != nullptr) {
    reading.source_time = time_of(*time_node);
  }
  if (!reading.source_time && !shape.time.empty() && (shape.time_required || time_node)) {
    return std::nullopt;
  }
  if (const Json* mark = shape.simulated.empty() ? nullptr : find(document, shape.simulated)) {
    if (!mark->is_boolean()) {
      return std::nullopt;  // a mark that cannot be read must not count as absent
    }
    reading.simulated = mark->get<bool>();
  }
  return reading;
}

TextContent content_of(std::string_view text) {
  constexpr std::size_t most_numbers = 64;
  TextContent content;
  if (!within_json_limits(text)) {
    return content;
  }
  const Json document = Json::parse(text, nullptr, false);
  if (const auto number = number_of(document, false)) {
    return {{{"", *number}}, ""};
  }
  const Json flat = document.is_structured() ? document.flatten() : Json::object();
  for (const auto& [pointer, node] : flat.items()) {
    if (time_of(node)) {
      content.time = content.time.empty() ? pointer : content.time;
    } else if (const auto number = number_of(node, false);
               number && content.numbers.size() < most_numbers) {
      content.numbers.push_back({pointer, *number});
    }
  }
  return content;
}

std::optional<WallTime> from_unix_seconds(double unix_seconds) {
  constexpr double earliest = 978307200.0;  // 2001-01-01
  constexpr double latest = 4102444800.0;   // 2100-01-01
  if (!(unix_seconds >= earliest && unix_seconds <= latest)) {
    return std::nullopt;
  }
  return WallTime(from_seconds(unix_seconds));
}

}  // namespace brinegate::drivers
