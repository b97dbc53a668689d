// SPDX-License-Identifier: Apache-2.0
// Days and times as people and devices write them (ISO 8601), from 2001 to 2099. No time zone of
// the process is asked: what has no offset is UTC.
#pragma once

#include <optional>
#include <string_view>

#include "rules/result.h"
#include "rules/time.h"

namespace brinegate::config {

// "2031-05-04T07:08:09.25Z" or with an offset such as "+02:00". Without a zone it is no instant.
std::optional<WallTime> parse_iso8601(std::string_view text);

// By a person: "2026-11-02T18:00", with or without seconds and offset, or a day, which is its
// beginning.
Result<WallTime> parse_time(std::string_view text);
// The end of a last day: "2029-03-02" is up to 2029-03-03T00:00Z.
Result<WallTime> parse_last_day(std::string_view text);

}  // namespace brinegate::config
