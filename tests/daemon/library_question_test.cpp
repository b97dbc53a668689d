// SPDX-License-Identifier: Apache-2.0
// What is asked of lots and tanks over the control socket and MQTT. All data are invented.
#include "daemon/engine/library_question.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "daemon/engine/library_request.h"
#include "tests/config/cellar.h"

namespace brinegate::daemon {
namespace {

using testing::HasSubstr;

constexpr WallTime spring{std::chrono::seconds(1'775'000'000)};  // 2026-03-31

// With the example lots and tank of ours.
class LibraryQuestion : public testing::Test {
 protected:
  LibraryQuestion() {
    for (const char* file : {"h-2291.json", "h-2304.csv", "h-2317.txt"})
      put({{"do", "lot add"}}, file);
    put({{"do", "tank add"}}, "reef.json");
    put({{"do", "tank test"}, {"tank", "reef"}}, "reef-test.json");
  }
  void put(Json request, const std::string& file) {
    request["text"] = config::content_of("config/examples/" + file);
    const auto parsed = parse_request(request.dump(), largest_local_request);
    ASSERT_TRUE(parsed) << parsed.error().message;
    Append append;
    const Json answer = apply_library_request(library_, *parsed, append, spring);
    ASSERT_TRUE(answer.at("ok").get<bool>()) << answer;
  }
  [[nodiscard]] Json ask(const std::string& request) const {
    const auto parsed = parse_request(request);
    if (!parsed)
      return {{"ok", false}, {"message", parsed.error().message}};
    EXPECT_TRUE(asks_library(*parsed));
    return answer_question(library_, *parsed, spring);
  }

  Library library_;
};

TEST_F(LibraryQuestion, ListsAndShowsWhatIsOnRecord) {
  EXPECT_EQ(ask(R"({"id": "q", "do": "lot list"})").at("lots").size(), 3U);
  EXPECT_EQ(ask(R"({"id": "q", "do": "lot list"})").at("id"), "q");
  EXPECT_EQ(ask(R"({"do": "tank list"})").at("tanks").at(0).at("tank"), "reef");
  const Json lot = ask(R"({"do": "lot show", "lot": "H-2291/1", "salinity": "33 ppt"})");
  EXPECT_NEAR(lot.at("at").at("reference_salinity_g_kg").get<double>(), 33.0, 1e-3);
  EXPECT_EQ(ask(R"({"do": "tank show", "tank": "reef"})").at("tests"), 1);
  EXPECT_TRUE(ask(R"({"do": "tank review", "tank": "reef"})").at("outcomes").empty());
  const Json both = ask(R"({"do": "lot compare", "lots": ["H-2291", "H-2304"], "tank": "reef"})");
  EXPECT_EQ(both.at("lots").size(), 2U);
}

TEST_F(LibraryQuestion, RanksAndForetells) {
  const Json ranking = ask(R"({"do": "lot rank", "tank": "reef", "change": "20 %", "times": 2})");
  EXPECT_EQ(ranking.at("lots").at(0).at("lot"), "H-2291") << ranking.dump(2);
  EXPECT_EQ(ranking.at("lots").at(2).at("vetoes").at(0).at("reason"), "above-limit");
  double shares = 0.0;
  for (const Json& row : ranking.at("lots").at(1).at("analytes"))
    shares += row.at("share_of_score").get<double>();
  EXPECT_NEAR(shares, ranking.at("lots").at(1).at("score").get<double>(), 1e-3);
  const Json forecast = ask(R"({"do": "tank forecast", "tank": "reef", "lot": "H-2291",
                                "change": "80 L", "every": "14 d", "continuous": true})");
  EXPECT_EQ(forecast.at("plan").at("mode"), "continuous");
  EXPECT_DOUBLE_EQ(forecast.at("plan").at("fraction").get<double>(), 0.1);
}

TEST_F(LibraryQuestion, KeepsALongCourseShortAndItsEnd) {
  const Json forecast = ask(R"({"do": "tank forecast", "tank": "reef", "lot": "H-2291",
                                "change": "1 %", "times": 10000})");
  for (const Json& row : forecast.at("analytes")) {
    const Json& course = row.at("course");
    EXPECT_EQ(course.size(), 60U);
    EXPECT_EQ(course.back().at("change"), 10'000);
    EXPECT_EQ(course.back().at("after").at("high"), row.at("after").at("high"));
    EXPECT_LE(course.back().at("after").at("at_least").get<double>(),
              course.back().at("after").at("low").get<double>());
  }
}

TEST_F(LibraryQuestion, RefusesWhatIsNotThereOrCannotBe) {
  const auto refused = [&](const std::string& request) {
    const Json answer = ask(request);
    EXPECT_FALSE(answer.at("ok").get<bool>()) << request;
    return answer.at("message").get<std::string>();
  };
  EXPECT_THAT(refused(R"({"do": "lot show", "lot": "H-2219"})"), HasSubstr("did you mean"));
  EXPECT_THAT(refused(R"({"do": "lot show", "lot": "H-2291/7"})"), HasSubstr("its latest is 1"));
  EXPECT_THAT(refused(R"({"do": "tank show", "tank": "reaf"})"), HasSubstr("did you mean"));
  EXPECT_THAT(refused(R"({"do": "lot compare", "lots": "H-2291"})"), HasSubstr("a list of texts"));
  EXPECT_THAT(refused(R"({"do": "lot compare"})"), HasSubstr("'lots' is missing"));
  EXPECT_THAT(refused(R"({"do": "lot rank", "tank": "reef"})"), HasSubstr("'change' is missing"));
  const std::string plan = R"({"do": "lot rank", "tank": "reef", "change": )";
  EXPECT_THAT(refused(plan + R"("900 L"})"), HasSubstr("more than the 800"));
  EXPECT_THAT(refused(plan + R"("0 %"})"), HasSubstr("changes nothing"));
  EXPECT_THAT(refused(plan + R"("20 %", "every": "0 d"})"), HasSubstr("more than nothing"));
  EXPECT_THAT(refused(plan + R"("20 %", "times": 2.5})"), HasSubstr("a whole number"));
  EXPECT_THAT(refused(plan + R"("20 %", "continuous": 1})"), HasSubstr("true or false"));
}

}  // namespace
}  // namespace brinegate::daemon
