// SPDX-License-Identifier: Apache-2.0
// What a batch does to a tank. All data are invented.
#include "daemon/batch_effect.h"

#include <cmath>
#include <limits>
#include <optional>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "daemon/engine/library_request.h"
#include "tests/config/cellar.h"

namespace brinegate::daemon {
namespace {

using namespace std::chrono_literals;
using testing::HasSubstr;

constexpr WallTime in_april{std::chrono::seconds(1'775'000'000)};  // after the test of the example

class BatchEffect : public testing::Test {
 protected:
  BatchEffect() {
    put({{"do", "lot add"}}, "h-2291.json");
    put({{"do", "tank add"}}, "reef.json");
    put({{"do", "tank test"}, {"tank", "reef"}}, "reef-test.json");
    batch_.id = "mixer-1";
    batch_.profile.name = "reef";
    add_portion(batch_,
                {salt_of(*library_.lot("H-2291"), in_april), {}, Grams(5640.0), Grams(5245.0)});
    station_->tank = "reef";
    station_->spec.pump.emplace().max_volume = Litres(60.0);
  }
  void put(Json request, const std::string& file) {
    request["text"] = config::content_of("config/examples/" + file);
    const auto parsed = parse_request(request.dump(), largest_local_request);
    ASSERT_TRUE(parsed) << parsed.error().message;
    Append append;
    ASSERT_TRUE(apply_library_request(library_, *parsed, append, in_april).at("ok").get<bool>());
  }
  // 160 L were drawn, which the library has too.
  void draw() {
    batch_.drawn = Litres(160.0);
    entries_ = {{1, {in_april, "mixer", "change-ended", R"({"drawn_l":160.0})"}, ""}};
    Append append;
    ASSERT_TRUE(library_.add_change(
        "reef",
        {in_april, Litres(160.0), batch_.profile.target, batch_.lots.composition, "mixer-1"},
        in_april, append));
  }
  [[nodiscard]] Json effect(std::optional<ExchangeAmount> change = {}) const {
    return batch_effect(
        {{"batch", "mixer-1", "mixer", dump(to_json(batch_))}, entries_, station_, change},
        library_, in_april + 24h);
  }
  static std::string sentence_of(const Json& effect) {
    EXPECT_TRUE(effect.at("analytes").empty());
    return effect.at("sentence").get<std::string>();
  }

  Library library_;
  Batch batch_;
  std::optional<config::Station> station_ = config::Station{};
  std::vector<RecordRow> entries_;
};

const Json& row_of_effect(const Json& effect, const std::string& analyte) {
  for (const Json& row : effect.at("analytes"))
    if (row.at("analyte") == analyte)
      return row;
  throw std::out_of_range(analyte);
}

// c' = (1 - f) c + f m, with f = 160 / 800, Ca 392 and 421 mg/L: 397.8 mg/L; its bound by 400 to
// 450 mg/L: (397.8 - 392) / 25.
TEST_F(BatchEffect, IsThatOfWhatWasDrawnOnTheTankBeforeIt) {
  draw();
  const Json drawn = effect();
  EXPECT_TRUE(drawn.at("drawn").get<bool>());
  EXPECT_THAT(drawn.at("sentence").get<std::string>(),
              HasSubstr("160.0 L of it in the 800 L of reef"));
  const Json& calcium = row_of_effect(drawn, "Ca");
  EXPECT_NEAR(calcium.at("tank").at("low").get<double>(), 392.0, 0.01);
  EXPECT_NEAR(calcium.at("after").at("low").get<double>(), 397.8, 0.01);
  EXPECT_LT(calcium.at("after").at("at_least").get<double>(), 397.8);
  EXPECT_NEAR(calcium.at("moved").get<double>(), 5.8 / 25.0, 1e-3);
  EXPECT_THAT(calcium.at("after").at("interval").get<std::string>(), HasSubstr(" to "));
}

TEST_F(BatchEffect, IsThatOfTheGreatestChangeUntilSomethingIsDrawn) {
  const Json foretold = effect();
  EXPECT_FALSE(foretold.at("drawn").get<bool>());
  EXPECT_EQ(foretold.at("volume_l"), 60.0);
  EXPECT_NEAR(row_of_effect(foretold, "Ca").at("after").at("low").get<double>(),
              392.0 + 60.0 / 800.0 * 29.0, 0.01);
  EXPECT_EQ(effect(ExchangeAmount{0.5, std::nullopt}).at("volume_l"), 400.0);
}

TEST_F(BatchEffect, TellsFirstWhatMovesMostByWhatIsWanted) {
  const Json foretold = effect();
  double before = std::numeric_limits<double>::infinity();
  ASSERT_GT(foretold.at("analytes").size(), 5U);
  for (const Json& row : foretold.at("analytes")) {
    EXPECT_LE(std::abs(row.at("moved").get<double>()), before) << row;
    before = std::abs(row.at("moved").get<double>());
  }
}

TEST_F(BatchEffect, TellsPeopleNothingThatReadsAsBefore) {
  EXPECT_THAT(most_moved(effect()), testing::SizeIs(6));
  const Json drop = effect(ExchangeAmount{std::nullopt, Litres(0.01)});
  EXPECT_TRUE(most_moved(drop).empty());
  EXPECT_THAT(drop.at("sentence").get<std::string>(), HasSubstr("too little"));
}

TEST_F(BatchEffect, SaysWhatItLacks) {
  Batch unknown = batch_;
  unknown.portions.front().salt.composition.reset();
  std::swap(unknown.portions, batch_.portions);
  EXPECT_THAT(sentence_of(effect()), HasSubstr("analysis on record"));
  std::swap(unknown.portions, batch_.portions);

  station_->spec.pump.reset();
  EXPECT_THAT(sentence_of(effect()), HasSubstr("Nothing was drawn"));
  station_->tank = "rock";
  EXPECT_THAT(sentence_of(effect()), HasSubstr("Tank rock is not on record"));
  station_->tank.clear();
  EXPECT_THAT(sentence_of(effect()), HasSubstr("names no tank"));
  station_.reset();
  EXPECT_THAT(sentence_of(effect()), HasSubstr("names no tank"));
  EXPECT_THAT(sentence_of(batch_effect({{"batch", "mixer-1", "mixer", "{"}, {}, {}, {}}, library_,
                                       in_april)),
              HasSubstr("cannot be read"));
}

}  // namespace
}  // namespace brinegate::daemon
