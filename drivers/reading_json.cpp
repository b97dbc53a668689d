// SPDX-License-Identifier: Apache-2.0
#include "drivers/reading_json.h"

#include <cmath>

#include <nlohmann/json.hpp>

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
    return parse_iso8601(node.get_ref<const std::string&>());
  }
  return std::nullopt;
}

// Digits at the front of the text, exactly `count` of them, taken off it.
std::optional<int> take_digits(std::string_view& text, std::size_t count) {
  if (text.size() < count) {
    return std::nullopt;
  }
  int number = 0;
  for (std::size_t i = 0; i < count; ++i) {
    if (text[i] < '0' || text[i] > '9') {
      return std::nullopt;
    }
    number = number * 10 + (text[i] - '0');
  }
  text.remove_prefix(count);
  return number;
}

bool take(std::string_view& text, char wanted) {
  if (text.empty() || text.front() != wanted) {
    return false;
  }
  text.remove_prefix(1);
  return true;
}

std::optional<std::chrono::sys_days> take_date(std::string_view& text) {
  const auto year = take_digits(text, 4);
  const bool first_dash = take(text, '-');
  const auto month = take_digits(text, 2);
  const bool second_dash = take(text, '-');
  const auto day = take_digits(text, 2);
  if (!year || !month || !day || !first_dash || !second_dash) {
    return std::nullopt;
  }
  const std::chrono::year_month_day date{std::chrono::year(*year),
                                         std::chrono::month(static_cast<unsigned>(*month)),
                                         std::chrono::day(static_cast<unsigned>(*day))};
  return date.ok() ? std::optional(std::chrono::sys_days(date)) : std::nullopt;
}

std::optional<Duration> take_clock(std::string_view& text) {
  const auto hour = take_digits(text, 2);
  const bool first_colon = take(text, ':');
  const auto minute = take_digits(text, 2);
  const bool second_colon = take(text, ':');
  const auto second = take_digits(text, 2);
  if (!hour || !minute || !second || !first_colon || !second_colon || *hour > 23 || *minute > 59 ||
      *second > 60) {  // 60: a leap second
    return std::nullopt;
  }
  Duration clock =
      std::chrono::hours(*hour) + std::chrono::minutes(*minute) + std::chrono::seconds(*second);
  if (take(text, '.') || take(text, ',')) {
    if (text.empty() || text.front() < '0' || text.front() > '9') {
      return std::nullopt;
    }
    for (Duration digit = std::chrono::milliseconds(100);
         !text.empty() && text.front() >= '0' && text.front() <= '9'; digit /= 10) {
      clock += digit * (text.front() - '0');
      text.remove_prefix(1);
    }
  }
  return clock;
}

std::optional<Duration> take_zone(std::string_view& text) {
  if (take(text, 'Z') || take(text, 'z')) {
    return Duration::zero();
  }
  const bool east = take(text, '+');
  if (!east && !take(text, '-')) {
    return std::nullopt;
  }
  const auto hours = take_digits(text, 2);
  take(text, ':');
  const auto minutes = take_digits(text, 2);
  if (!hours || !minutes || *hours > 23 || *minutes > 59) {
    return std::nullopt;
  }
  const Duration offset = std::chrono::hours(*hours) + std::chrono::minutes(*minutes);
  return east ? offset : -offset;
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

std::optional<WallTime> parse_iso8601(std::string_view text) {
  const auto date = take_date(text);
  if (!date || !(take(text, 'T') || take(text, 't') || take(text, ' '))) {
    return std::nullopt;
  }
  const auto clock = take_clock(text);
  const auto zone = clock ? take_zone(text) : std::nullopt;
  // Years beyond what 64 bits of nanoseconds hold are refused with all others that cannot be now.
  if (!zone || !text.empty()) {
    return std::nullopt;
  }
  const auto whole = from_unix_seconds(
      static_cast<double>(std::chrono::duration_cast<std::chrono::seconds>(
                              date->time_since_epoch() +
                              std::chrono::duration_cast<std::chrono::seconds>(*clock - *zone))
                              .count()));
  return whole ? std::optional(*whole + *clock % std::chrono::seconds(1)) : std::nullopt;
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
