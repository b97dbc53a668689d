// SPDX-License-Identifier: Apache-2.0
#include "config/wall_time.h"

#include <gtest/gtest.h>

namespace brinegate::config {
namespace {

using namespace std::chrono_literals;

// 2026-11-02T00:00Z, by GNU date: 1793577600.
constexpr WallTime day{std::chrono::seconds(1'793'577'600)};

TEST(WallTime, APersonsTimeIsUtcUnlessItSaysOtherwise) {
  EXPECT_EQ(parse_time("2026-11-02").value(), day);
  EXPECT_EQ(parse_time("2026-11-02T18:00").value(), day + 18h);
  EXPECT_EQ(parse_time("2026-11-02 18:00:30").value(), day + 18h + 30s);
  EXPECT_EQ(parse_time("2026-11-02T18:00+01:00").value(), day + 17h);
  EXPECT_EQ(parse_time("2026-11-02T18:00Z").value(), day + 18h);
}

TEST(WallTime, ALastDayLastsToItsEnd) {
  EXPECT_EQ(parse_last_day("2026-11-01").value(), day);
}

TEST(WallTime, WhatIsNoTimeIsRefusedWithAnExample) {
  for (const char* text :
       {"", "2026-11", "2026-13-02", "2026-02-30", "02.11.2026", "2026-11-02T", "2026-11-02T18",
        "2026-11-02T25:00", "2026-11-02T18:00 tomorrow", "1999-01-01", "9999-01-01"}) {
    ASSERT_FALSE(parse_time(text)) << text;
    EXPECT_NE(parse_time(text).error().message.find("2026-11-02T18:00"), std::string::npos);
    EXPECT_FALSE(parse_last_day(text)) << text;
  }
  EXPECT_FALSE(parse_last_day("2026-11-02T18:00"));
}

}  // namespace
}  // namespace brinegate::config
