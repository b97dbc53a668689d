// SPDX-License-Identifier: Apache-2.0
#include "config/wall_time.h"

#include <chrono>

#include <fmt/format.h>

#include "config/plain_text.h"

namespace brinegate::config {
namespace {

// Digits at the front of the text, exactly `count` of them, taken off it.
std::optional<int> take_digits(std::string_view& text, std::size_t count) {
  if (text.size() < count)
    return std::nullopt;
  int number = 0;
  for (std::size_t i = 0; i < count; ++i) {
    if (text[i] < '0' || text[i] > '9')
      return std::nullopt;
    number = number * 10 + (text[i] - '0');
  }
  text.remove_prefix(count);
  return number;
}

bool take(std::string_view& text, char wanted) {
  if (text.empty() || text.front() != wanted)
    return false;
  text.remove_prefix(1);
  return true;
}

std::optional<std::chrono::sys_days> take_date(std::string_view& text) {
  const auto year = take_digits(text, 4);
  const bool first_dash = take(text, '-');
  const auto month = take_digits(text, 2);
  const bool second_dash = take(text, '-');
  const auto day = take_digits(text, 2);
  if (!year || !month || !day || !first_dash || !second_dash)
    return std::nullopt;
  const std::chrono::year_month_day date{std::chrono::year(*year),
                                         std::chrono::month(static_cast<unsigned>(*month)),
                                         std::chrono::day(static_cast<unsigned>(*day))};
  const bool believable = *year >= 2001 && *year < 2100;
  return date.ok() && believable ? std::optional(std::chrono::sys_days(date)) : std::nullopt;
}

std::optional<Duration> take_clock(std::string_view& text, bool seconds_needed) {
  const auto hour = take_digits(text, 2);
  const bool first_colon = take(text, ':');
  const auto minute = take_digits(text, 2);
  const bool has_seconds = seconds_needed || (!text.empty() && text.front() == ':');
  const bool second_colon = has_seconds && take(text, ':');
  const auto second = has_seconds ? take_digits(text, 2) : std::optional(0);
  const bool complete = hour && minute && second && first_colon && second_colon == has_seconds;
  if (!complete || *hour > 23 || *minute > 59 || *second > 60)  // 60: a leap second
    return std::nullopt;
  Duration clock =
      std::chrono::hours(*hour) + std::chrono::minutes(*minute) + std::chrono::seconds(*second);
  if (take(text, '.') || take(text, ',')) {
    if (text.empty() || text.front() < '0' || text.front() > '9')
      return std::nullopt;
    for (Duration digit = std::chrono::milliseconds(100);
         !text.empty() && text.front() >= '0' && text.front() <= '9'; digit /= 10) {
      clock += digit * (text.front() - '0');
      text.remove_prefix(1);
    }
  }
  return clock;
}

bool take_separator(std::string_view& text) {
  return take(text, 'T') || take(text, 't') || take(text, ' ');
}

std::optional<Duration> take_zone(std::string_view& text) {
  if (take(text, 'Z') || take(text, 'z'))
    return Duration::zero();
  const bool east = take(text, '+');
  if (!east && !take(text, '-'))
    return std::nullopt;
  const auto hours = take_digits(text, 2);
  take(text, ':');
  const auto minutes = take_digits(text, 2);
  if (!hours || !minutes || *hours > 23 || *minutes > 59)
    return std::nullopt;
  const Duration offset = std::chrono::hours(*hours) + std::chrono::minutes(*minutes);
  return east ? offset : -offset;
}

WallTime instant(std::chrono::sys_days date, Duration clock, Duration zone) {
  return WallTime(date.time_since_epoch() + clock - zone);
}

}  // namespace

std::optional<WallTime> parse_iso8601(std::string_view text) {
  const auto date = take_date(text);
  if (!date || !take_separator(text))
    return std::nullopt;
  const auto clock = take_clock(text, true);
  const auto zone = clock ? take_zone(text) : std::nullopt;
  if (!zone || !text.empty())
    return std::nullopt;
  return instant(*date, *clock, *zone);
}

Result<WallTime> parse_time(std::string_view given) {
  std::string_view text = given;
  const auto date = take_date(text);
  const bool alone = text.empty();
  const bool separated = !alone && take_separator(text);
  const auto clock = separated ? take_clock(text, false) : std::nullopt;
  const auto zone = text.empty() ? std::optional(Duration::zero()) : take_zone(text);
  if (!date || !(alone || clock) || !zone || !text.empty())
    return Error{fmt::format(
        "{} is no time: write \"2026-11-02T18:00\", which is UTC, \"2026-11-02T18:00+01:00\" "
        "or a day as \"2026-11-02\"",
        quoted(given))};
  return instant(*date, clock.value_or(Duration::zero()), *zone);
}

Result<WallTime> parse_last_day(std::string_view given) {
  std::string_view text = given;
  const auto date = take_date(text);
  if (!date || !text.empty())
    return Error{fmt::format("{} is no day: write \"2029-03-02\"", quoted(given))};
  return WallTime(date->time_since_epoch() + std::chrono::hours(24));
}

}  // namespace brinegate::config
