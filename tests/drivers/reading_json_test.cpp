// SPDX-License-Identifier: Apache-2.0
#include "drivers/reading_json.h"

#include <string>

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include "config/wall_time.h"

namespace brinegate::drivers {
namespace {

const ReadingShape plain{};
const ReadingShape contact{"", "", "", true, true};
const ReadingShape object{"/value", "/time", "/simulated", false, false};

TEST(ReadingJson, TakesAPlainNumber) {
  EXPECT_EQ(parse_reading("53.1", plain)->value, 53.1);
  EXPECT_EQ(parse_reading(" -2e1\n", plain)->value, -20.0);
}

TEST(ReadingJson, RefusesWhatIsNotTheNumberAskedFor) {
  for (const char* text : {"", "fifty", "53,1", "53.1 mS/cm", "\"53.1\"", "null", "true", "[53.1]",
                           "{\"value\": 53.1}", "NaN", "Infinity", "1e999", "0x35", "53.1 25.0"}) {
    EXPECT_FALSE(parse_reading(text, plain)) << text;
  }
}

TEST(ReadingJson, FindsTheValueByPointer) {
  const ReadingShape shape{"/cells/0/mS", "", "", true, false};
  EXPECT_EQ(parse_reading(R"({"cells": [{"mS": 53.07}]})", shape)->value, 53.07);
  EXPECT_FALSE(parse_reading(R"({"cells": []})", shape));
  EXPECT_FALSE(parse_reading("53.07", shape));
  EXPECT_FALSE(parse_reading("{}", {"no slash", "", "", true, false}));
}

TEST(ReadingJson, ListsEveryNumberOfATextWhoseFormIsNotKnown) {
  const auto plain_number = content_of(" 24.5 ");
  ASSERT_EQ(plain_number.numbers.size(), 1U);
  EXPECT_EQ(plain_number.numbers[0].pointer, "");
  const auto listed = content_of(
      R"({"b": {"a/b": -2, "~": [true, "9", 1e3]}, "at": 1924000000, "name": "cell", "n": null})");
  ASSERT_EQ(listed.numbers.size(), 2U);
  EXPECT_EQ(listed.numbers[0].pointer, "/b/a~1b");  // escaped as in RFC 6901
  EXPECT_EQ(listed.numbers[0].value, -2.0);
  EXPECT_EQ(listed.numbers[1].pointer, "/b/~0/2");
  EXPECT_EQ(listed.time, "/at");
  for (const auto& number : listed.numbers) {
    EXPECT_EQ(parse_reading(R"({"b": {"a/b": -2, "~": [true, "9", 1e3]}})",
                            {number.pointer, "", "", true, false})
                  ->value,
              number.value);
  }
  for (const char* text : {"", "warm", "{}", "[]", "null", "true", "\"24.5\"", "{"}) {
    EXPECT_TRUE(content_of(text).numbers.empty()) << text;
  }
}

TEST(ReadingJson, OnlyAContactSpeaksInWords) {
  EXPECT_EQ(parse_reading("ON", contact)->value, 1.0);
  EXPECT_EQ(parse_reading("off", contact)->value, 0.0);
  EXPECT_EQ(parse_reading("true", contact)->value, 1.0);
  EXPECT_EQ(parse_reading("\"on\"", contact)->value, 1.0);
  EXPECT_FALSE(parse_reading("open", contact));
  EXPECT_FALSE(parse_reading("on", plain));
  EXPECT_FALSE(parse_reading("true", plain));
}

TEST(ReadingJson, TakesTheTimeOfTheSource) {
  // 1924000000 = 2030-12-20T12:26:40Z, by `date -u -d @1924000000`.
  const WallTime expected{std::chrono::seconds(1924000000)};
  EXPECT_EQ(parse_reading(R"({"value": 1, "time": "2030-12-20T12:26:40Z"})", object)->source_time,
            expected);
  EXPECT_EQ(
      parse_reading(R"({"value": 1, "time": "2030-12-20T14:26:40+02:00"})", object)->source_time,
      expected);
  EXPECT_EQ(
      parse_reading(R"({"value": 1, "time": "2030-12-20T09:56:40.25-0230"})", object)->source_time,
      expected + std::chrono::milliseconds(250));
  EXPECT_EQ(parse_reading(R"({"value": 1, "time": 1924000000})", object)->source_time, expected);
}

TEST(ReadingJson, RefusesATimeThatIsNoInstant) {
  for (const char* time :
       {"\"2030-12-20T14:26:40\"", "\"2030-12-20\"", "\"2030-02-30T00:00:00Z\"", "\"20:30\"",
        "1924000000000", "86400", "-1", "true", "{}", "\"9999-12-31T00:00:00Z\"",
        "\"2030-12-20T14:26:40Zz\"", "\"2030-12-20T24:26:40Z\"", "\"2030-12-20T14:26:40.Z\""}) {
    const std::string text = std::string(R"({"value": 1, "time": )") + time + "}";
    EXPECT_FALSE(parse_reading(text, object)) << time;
  }
}

TEST(ReadingJson, ATimeThatWasAskedForMustBeThere) {
  EXPECT_TRUE(parse_reading(R"({"value": 1})", object));
  EXPECT_FALSE(parse_reading(R"({"value": 1})", {"/value", "/time", "", true, false}));
}

TEST(ReadingJson, ReadsTheSimulatedMarkAndRefusesOneItCannotRead) {
  EXPECT_TRUE(parse_reading(R"({"value": 1, "simulated": true})", object)->simulated);
  EXPECT_FALSE(parse_reading(R"({"value": 1, "simulated": false})", object)->simulated);
  EXPECT_FALSE(parse_reading(R"({"value": 1})", object)->simulated);
  EXPECT_FALSE(parse_reading(R"({"value": 1, "simulated": "no"})", object));
}

TEST(ReadingJson, RefusesTextThatIsTooLargeOrTooDeep) {
  EXPECT_FALSE(within_json_limits(std::string(longest_json + 1, ' ')));
  EXPECT_TRUE(within_json_limits(std::string(longest_json, ' ')));
  EXPECT_FALSE(within_json_limits(std::string(deepest_json + 1, '[')));
  EXPECT_TRUE(within_json_limits(std::string(deepest_json, '[')));
  EXPECT_TRUE(within_json_limits("\"" + std::string(100, '[') + "\""));
  EXPECT_FALSE(within_json_limits(R"("\\")" + std::string(deepest_json + 1, '{')));
}

RC_GTEST_PROP(ReadingJson, NeverThrowsWhateverTheBytes, (const std::string& bytes)) {
  for (const auto& shape :
       {plain, contact, object, ReadingShape{bytes, bytes, bytes, true, true}}) {
    const auto reading = parse_reading(bytes, shape);
    RC_ASSERT(!reading || reading->value == reading->value);
  }
  (void)config::parse_iso8601(bytes);
}

}  // namespace
}  // namespace brinegate::drivers
