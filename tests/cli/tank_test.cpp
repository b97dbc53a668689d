// SPDX-License-Identifier: Apache-2.0
#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/cli/shop.h"

namespace brinegate::daemon {
namespace {

using testing::HasSubstr;

TEST(TankCommands, ShowWhatATankHasAndWhatIsWantedOfIt) {
  const Shop shop;
  shop.fill();
  const auto view = shop.run({"tank", "show", "reef", "--json"}).json();
  EXPECT_EQ(view.at("volume_l"), 800.0);
  EXPECT_EQ(view.at("latest_test"), "2026-03-01T18:00:00Z");
  const auto calcium = row_of(view.at("analytes"), "Ca");
  EXPECT_NEAR(calcium.at("wanted").at("low").get<double>(), 400.0, 0.5);
  EXPECT_EQ(calcium.at("wanted").at("weight"), 2.0);
  EXPECT_NEAR(calcium.at("now").at("high").get<double>(), 392.0, 0.5);
  EXPECT_EQ(calcium.at("consumption").at("from"), "none");
  const auto iodine = row_of(view.at("analytes"), "I");
  EXPECT_THAT(iodine.at("wanted").at("source").get<std::string>(), HasSubstr("common practice"));
  EXPECT_EQ(row_of(view.at("analytes"), "Fe").at("now").at("low"), 0.0);
}

TEST(TankCommands, AreRefusedForATankThatIsNotOnRecord) {
  const Shop shop;
  shop.fill();
  const Said said = shop.run({"tank", "test", "reaf", Shop::example("reef-test.json")});
  EXPECT_EQ(said.status, ExitStatus::Refused);
  EXPECT_THAT(said.err, HasSubstr("did you mean 'reef'"));
  EXPECT_EQ(shop.run({"tank", "show", "reaf"}).status, ExitStatus::Usage);
}

TEST(TankCommands, NameEveryMistakeInAFile) {
  const Shop shop;
  const Said said = shop.run({"tank", "add", shop.changed("reef.json", "800 L", "800")});
  EXPECT_EQ(said.status, ExitStatus::Usage);
  EXPECT_THAT(said.err, HasSubstr("reef.json:1:"));
  const Said test =
      shop.run({"tank", "test", "reef", shop.changed("reef-test.json", "392 mg/L", "392")});
  EXPECT_EQ(test.status, ExitStatus::Usage);
  EXPECT_THAT(test.err, HasSubstr("reef-test.json:2:"));
}

TEST(TankForecast, FollowsTheDilutionOfEachChange) {
  const Shop shop;
  shop.fill();
  const auto view = shop.run({"tank", "forecast", "reef", "--lot", "H-2291", "--change", "20 %",
                              "--times", "3", "--json"})
                        .json();
  const auto potassium = row_of(view.at("analytes"), "K");
  const double tank = potassium.at("tank").at("high").get<double>();
  const double water = potassium.at("new_water").at("high").get<double>();
  // c' = (1 - f) c + f m, three times
  EXPECT_NEAR(potassium.at("after").at("high").get<double>(), water + (tank - water) * 0.512, 0.2);
  ASSERT_EQ(potassium.at("course").size(), 3U);
  EXPECT_NEAR(potassium.at("course").at(0).at("after").at("high").get<double>(),
              0.8 * tank + 0.2 * water, 0.2);
  EXPECT_NEAR(potassium.at("tends_to").at("high").get<double>(), water, 0.1);
  EXPECT_LT(potassium.at("after").at("at_least").get<double>(),
            potassium.at("after").at("low").get<double>());
  // From 351 toward 398.7 mg/L; wanted are 380 at SP 35, here 378.2: 0.8^4 < 1 - 27.2 / 47.7 <
  // 0.8^3.
  EXPECT_EQ(potassium.at("changes_until"), 4);
  EXPECT_THAT(view.at("not_tested"), testing::Contains("Na"));
}

TEST(TankForecast, SaysWhatAnElementTendsToThatNeverComesIntoItsRange) {
  const Shop shop;
  shop.fill();
  const Said said =
      shop.run({"tank", "forecast", "reef", "--lot", "H-2304", "--change", "10 %", "--times", "4"});
  EXPECT_EQ(said.status, ExitStatus::Done) << said.err;
  EXPECT_THAT(said.out, HasSubstr("Potassium   never for good: it tends to 372 mg/L"));
  EXPECT_THAT(said.out, HasSubstr("Copper      is there now and stays"));
}

TEST(TankForecast, HoldsTheStepOfOneChangeAgainstTheTanksLimits) {
  const Shop shop;
  shop.fill();
  const auto steps = [&](const std::string& salinity) {
    return shop
        .run({"tank", "forecast", "reef", "--lot", "H-2291", "--change", "50 %", "--salinity",
              salinity, "--json"})
        .json()
        .at("steps");
  };
  EXPECT_FALSE(steps("35 ppt").at(0).at("too_large").get<bool>());
  EXPECT_TRUE(steps("33 ppt").at(0).at("too_large").get<bool>()) << "1 ppt at once";
  EXPECT_THAT(steps("33 ppt").at(0).at("sentence").get<std::string>(),
              HasSubstr("change less at a time"));
}

TEST(TankReview, HoldsTheLatestTestAgainstWhatTheChangesShouldHaveDone) {
  const Shop shop;
  shop.fill();
  EXPECT_THAT(shop.run({"tank", "review", "reef"}).out, HasSubstr("Nothing to review"));
  EXPECT_EQ(shop.run({"tank", "change", "reef", "--volume", "400 L", "--lot", "H-2304", "--at",
                      "2026-03-02T18:00"})
                .status,
            ExitStatus::Done);
  // Half of the water: calcium (392 + 468) / 2 = 430, potassium (351 + 372) / 2 = 361.5 mg/L.
  const auto test = [&shop](const std::string& potassium, const std::string& day) {
    const std::string text = "{\"tested\": \"" + day + "T18:00\", \"salinity\": \"35 ppt\",\n" +
                             R"("values": {"Ca": "431 mg/L", "K": ")" + potassium + " mg/L\"}}";
    const Said said = shop.run({"tank", "test", "reef", shop.file(day + ".json", text)});
    EXPECT_EQ(said.status, ExitStatus::Done) << said.err;
  };
  test("360", "2026-03-03");
  const Said good = shop.run({"tank", "review", "reef", "--json"});
  EXPECT_EQ(good.status, ExitStatus::Done) << good.err;
  const auto calcium = row_of(good.json().at("outcomes"), "Ca");
  EXPECT_NEAR(calcium.at("foretold").at("high").get<double>(), 430.0, 1.0);
  EXPECT_TRUE(calcium.at("agrees").get<bool>());

  test("700", "2026-03-04");
  const Said bad = shop.run({"tank", "review", "reef"});
  EXPECT_EQ(bad.status, ExitStatus::Refused);
  EXPECT_THAT(bad.out, HasSubstr("Potassium"));
  EXPECT_THAT(bad.out, HasSubstr("more than can be by chance"));
}

TEST(TankChange, IsRefusedWithItsReasons) {
  const Shop shop;
  shop.fill();
  EXPECT_EQ(shop.run({"tank", "change", "reef", "--volume", "900 L", "--lot", "H-2291"}).status,
            ExitStatus::Refused);
  EXPECT_THAT(shop.run({"tank", "change", "reef", "--volume", "80 L", "--lot", "H-2219"}).err,
              HasSubstr("did you mean"));
  EXPECT_EQ(shop.run({"tank", "change", "reef", "--volume", "80"}).status, ExitStatus::Usage);
}

TEST(BatchOfSeveralLots, NeedsTheMassOfEach) {
  const Said said = run_cli({"batch", "begin", "mixer", "--lot", "H-2291=5 kg", "--lot", "H-2304"});
  EXPECT_EQ(said.status, ExitStatus::Usage);
  EXPECT_THAT(said.err, HasSubstr("H-2304=5 kg"));
  EXPECT_EQ(run_cli({"batch", "begin", "mixer", "--lot", "H-2291=5 kg", "--salt", "5 kg"}).status,
            ExitStatus::Usage);
  EXPECT_EQ(run_cli({"batch", "begin", "mixer", "--lot", "H-2291=5"}).status, ExitStatus::Usage);
}

}  // namespace
}  // namespace brinegate::daemon
