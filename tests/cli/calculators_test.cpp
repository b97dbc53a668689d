// SPDX-License-Identifier: Apache-2.0
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/cli/run_cli.h"

namespace brinegate::daemon {
namespace {

using testing::HasSubstr;

TEST(SalinityCommand, AgreesWithTheDefinitionOfPracticalSalinity) {
  // PSS-78: 42.914 mS/cm at 15 °C on IPTS-68, which is 14.9964 °C on ITS-90, is SP 35.
  const Said said = run_cli(
      {"salinity", "--conductivity", "42.914 mS/cm", "--temperature", "14.9964 C", "--json"});
  EXPECT_EQ(said.status, ExitStatus::Done);
  EXPECT_NEAR(said.json().at("practical_salinity").get<double>(), 35.0, 1e-4);
  EXPECT_NEAR(said.json().at("reference_salinity_g_kg").get<double>(), 35.16504, 1e-4);
  EXPECT_EQ(said.json().at("quality"), "good");
  EXPECT_TRUE(said.json().contains("density_kg_m3"));
}

TEST(SalinityCommand, ComesBackFromWhatItSays) {
  const auto first =
      run_cli({"salinity", "--salinity", "35 ppt", "--temperature", "20 C", "--json"}).json();
  const std::string gravity = first.at("specific_gravity_25_25").dump();
  const auto second = run_cli({"salinity", "--gravity", gravity, "--at", "25/25", "--json"}).json();
  EXPECT_NEAR(first.at("reference_salinity_g_kg").get<double>(), 35.0, 1e-9);
  EXPECT_NEAR(second.at("reference_salinity_g_kg").get<double>(), 35.0, 1e-6);
}

TEST(SalinityCommand, UndoesTheCompensationOfTheProbe) {
  // shown = actual / (1 + alpha (t - 25)): 47.7 mS/cm at 20 °C is shown as 53.
  const auto shown = run_cli({"salinity", "--conductivity", "53 mS/cm", "--temperature", "20 C",
                              "--compensated-to", "25", "--alpha", "2.0", "--json"});
  const auto actual =
      run_cli({"salinity", "--conductivity", "47.7 mS/cm", "--temperature", "20 C", "--json"});
  EXPECT_NEAR(shown.json().at("practical_salinity").get<double>(),
              actual.json().at("practical_salinity").get<double>(), 1e-9);
}

TEST(SalinityCommand, SaysWhenItExtrapolates) {
  const Said said =
      run_cli({"salinity", "--conductivity", "70 mS/cm", "--temperature", "25 C", "--json"});
  EXPECT_EQ(said.status, ExitStatus::Done);
  EXPECT_EQ(said.json().at("quality"), "uncertain");
}

TEST(SalinityCommand, RefusesNonsenseAndBareNumbers) {
  const Said absurd = run_cli({"salinity", "--conductivity", "130 mS/cm", "--temperature", "25 C"});
  EXPECT_EQ(absurd.status, ExitStatus::Usage);
  EXPECT_THAT(absurd.err, HasSubstr("0 to 120 mS/cm"));
  EXPECT_EQ(absurd.out, "");

  const Said bare = run_cli({"salinity", "--conductivity", "53"});
  EXPECT_EQ(bare.status, ExitStatus::Usage);
  EXPECT_THAT(bare.err, HasSubstr("53 mS/cm"));
  EXPECT_THAT(bare.err, HasSubstr("--temperature")) << "every error is said, not only the first";
}

TEST(SalinityCommand, TakesOneQuantityOnly) {
  EXPECT_EQ(run_cli({"salinity"}).status, ExitStatus::Usage);
  EXPECT_EQ(run_cli({"salinity", "--gravity", "1.026", "--salinity", "35 ppt"}).status,
            ExitStatus::Usage);
}

TEST(DoseCommand, KeepsSaltAndWater) {
  const auto dose = run_cli({"dose", "--water", "200 L", "--target", "35 ppt", "--json"}).json();
  // Mass balance by hand: water at 25 °C weighs 997.047 kg/m3 (IAPWS-95), and the salt's own water
  // dilutes: salt * 0.93 = 0.035 * (water + salt).
  const double water_g = 200.0 * 997.047;
  EXPECT_NEAR(dose.at("salt_g").get<double>(), 0.035 * water_g / (0.93 - 0.035), 1.0);
  EXPECT_GT(dose.at("volume_after_l").get<double>(), 200.0);
  EXPECT_LT(dose.at("volume_after_l").get<double>(), 205.0);
}

TEST(DoseCommand, EndsAtTheVolumeAskedFor) {
  const auto dose = run_cli({"dose", "--to", "200 L", "--target", "35 ppt", "--rest", "20 L",
                             "--rest-salinity", "34 ppt", "--json"})
                        .json();
  EXPECT_DOUBLE_EQ(dose.at("volume_after_l").get<double>(), 200.0);
  EXPECT_LT(dose.at("water_l").get<double>(), 180.0);
}

TEST(DoseCommand, StatesWhatItAssumes) {
  const Said said = run_cli({"dose", "--water", "200 L", "--target", "35 ppt"});
  EXPECT_THAT(said.out, HasSubstr("93 %"));
  EXPECT_THAT(said.out, HasSubstr("hydration"));
  EXPECT_THAT(said.out, HasSubstr("kg/m3"));
}

TEST(DoseCommand, RefusesWhatDoesNotFitAndSaysWhatDoes) {
  const Said said =
      run_cli({"dose", "--water", "200 L", "--target", "35 ppt", "--capacity", "200 L"});
  EXPECT_EQ(said.status, ExitStatus::Refused);
  EXPECT_THAT(said.err, HasSubstr("--to \"200 L\""));
}

TEST(CorrectCommand, ListsEveryWayThatFitsFirst) {
  const Said said = run_cli({"correct", "--volume", "200 L", "--reading", "36 ppt", "--target",
                             "35 ppt", "--capacity", "200 L", "--json"});
  EXPECT_EQ(said.status, ExitStatus::Done);
  const auto ways = said.json().at("corrections");
  ASSERT_EQ(ways.size(), 2U);
  EXPECT_EQ(ways[0].at("action"), "replace-with-water");
  EXPECT_TRUE(ways[0].at("fits").get<bool>());
  EXPECT_EQ(ways[1].at("action"), "add-water");
  EXPECT_FALSE(ways[1].at("fits").get<bool>());
  for (const auto& way : ways)
    EXPECT_NEAR(way.at("salinity_after").get<double>(), 35.0, 1e-6);
}

TEST(CorrectCommand, AnswersInTheUnitOfTheTarget) {
  const auto way = run_cli({"correct", "--volume", "180 L", "--reading", "33 PSU", "--target",
                            "35 PSU", "--json"})
                       .json()
                       .at("corrections")
                       .at(0);
  EXPECT_EQ(way.at("action"), "add-salt");
  EXPECT_NEAR(way.at("salinity_after").get<double>(), 35.0, 1e-9);
  EXPECT_NEAR(way.at("reference_salinity_after_g_kg").get<double>(), 35.16504, 1e-6);
}

TEST(CorrectCommand, HasNothingToSayOfABatchOnTarget) {
  const Said said =
      run_cli({"correct", "--volume", "180 L", "--reading", "35 ppt", "--target", "35 ppt"});
  EXPECT_EQ(said.status, ExitStatus::Done);
  EXPECT_THAT(said.out, HasSubstr("Nothing to correct"));
}

}  // namespace
}  // namespace brinegate::daemon
