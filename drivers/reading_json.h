// SPDX-License-Identifier: Apache-2.0
// One reading as text: a plain number, a contact's word, or JSON. Pure, for MQTT payloads and the
// lines of child processes alike. The text comes from strangers: size, depth and every type are
// checked, and nothing is thrown.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "rules/time.h"

namespace brinegate::drivers {

inline constexpr std::size_t longest_json = std::size_t{16} * 1024;  // bytes
inline constexpr int deepest_json = 16;                              // levels of arrays and objects

// True where the text is small and flat enough to be parsed at all.
bool within_json_limits(std::string_view text);

struct ReadingShape {
  std::string value;          // JSON pointer; empty: the payload is the number itself
  std::string time;           // JSON pointer; empty: the source gives no time
  std::string simulated;      // JSON pointer to a boolean; an absent mark means a real source
  bool time_required = true;  // a reading without the time that was asked for is no reading
  bool contact = false;       // also takes true, false, "on" and "off", as 1 and 0
};

struct ParsedReading {
  double value = 0.0;
  std::optional<WallTime> source_time;
  bool simulated = false;
};

// Nothing where the text is not the reading asked for.
std::optional<ParsedReading> parse_reading(std::string_view text, const ReadingShape& shape);

// A number that a text holds; pointer empty: the text is the number.
struct NumberInText {
  std::string pointer;
  double value = 0.0;
};

// What a source of the configuration could take from a text whose form is not known yet.
struct TextContent {
  std::vector<NumberInText> numbers;  // at most 64
  std::string time;                   // JSON pointer to what reads as a time; empty: none
};
TextContent content_of(std::string_view text);

// Unix time in seconds, taken for one from 2001 to 2100 only: milliseconds, and the seconds since
// boot of a device without a clock, fall outside.
std::optional<WallTime> from_unix_seconds(double unix_seconds);

}  // namespace brinegate::drivers
