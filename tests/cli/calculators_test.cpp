// SPDX-License-Identifier: Apache-2.0
#include <filesystem>
#include <fstream>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "config/advice.h"
#include "daemon/engine/state_json.h"
#include "daemon/store_tables.h"
#include "rules/lot_yield.h"
#include "tests/cli/run_cli.h"
#include "tests/config/cellar.h"
#include "tests/temporary_folder.h"

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

// What the daemon has stored of a lot, and the configuration that leads there.
class LearnedLot : public testing::Test {
 protected:
  LearnedLot() {
    std::ofstream(config_) << config::with(
        config::cellar, R"(data = "record")",
        fmt::format("data = \"{}\"", (folder_.path() / "record").string()));
    auto record = RecordWriter::open(data());
    EXPECT_TRUE(record.ok());
    RecordWriter writer = std::move(record).value();
    Append append;
    const std::string batch = R"({"id":"mixer-1","lot":"H-2291","dry_fraction":0.93,)"
                              R"("dry_fraction_uncertainty":0.02,"dry_fraction_learned":false})";
    append.states.push_back({"batch", "mixer-1", "mixer", batch});
    const nlohmann::json seen{{"batch", "mixer-1"},
                              {"observed_dry_fraction", 0.88},
                              {"sentence", config::sentence("H-2291", lot_)}};
    append.entries.push_back({WallTime{}, "mixer", "yield-learned", seen.dump()});
    append.states.push_back({"lot-yield", "H-2291", "mixer", dump(to_json(lot_))});
    EXPECT_TRUE(writer.append(append).ok());
  }
  [[nodiscard]] std::filesystem::path data() const {
    std::filesystem::create_directories(folder_.path() / "record");
    return folder_.path() / "record";
  }

  TemporaryFolder folder_;
  std::string config_ = (folder_.path() / "cellar.toml").string();
  LotYield lot_ = learned(std::nullopt, {}, {0.88, 0.008, 0.01});
};

TEST_F(LearnedLot, IsWhatADoseOfThatLotTakes) {
  const auto dose = run_cli({"dose", "--water", "200 L", "--target", "35 ppt", "--lot", "H-2291",
                             "--config", config_, "--json"})
                        .json();
  const double dry_fraction = product_of(lot_).dry_fraction;
  EXPECT_NEAR(dose.at("assumed").at("dry_fraction").get<double>(), dry_fraction, 1e-12);
  EXPECT_EQ(dose.at("assumed").at("dry_fraction_learned"), true);
  const double water_g = 200.0 * 997.047;  // at 25 °C
  EXPECT_NEAR(dose.at("salt_g").get<double>(), 0.035 * water_g / (dry_fraction - 0.035), 1.0);
  const Said said = run_cli({"correct", "--volume", "180 L", "--reading", "33 ppt", "--target",
                             "35 ppt", "--lot", "H-2291", "--config", config_});
  EXPECT_THAT(said.out, HasSubstr("as learned from"));
}

TEST_F(LearnedLot, StandsInTheReportOfTheBatchThatTaughtIt) {
  const Said said = run_cli({"batch", "report", "mixer-1", "--config", config_});
  EXPECT_EQ(said.status, ExitStatus::Done) << said.err;
  EXPECT_THAT(said.out, HasSubstr("dry fraction uncertainty  0.02"));
  EXPECT_THAT(said.out, HasSubstr("yield-learned  observed dry fraction 0.88"));
  EXPECT_THAT(said.out, HasSubstr("90.1 ± 2.9 % of dry salt"));
}

TEST_F(LearnedLot, AnotherLotTakesWhatIsUsualAndSaysSo) {
  const Said said = run_cli({"dose", "--water", "200 L", "--target", "35 ppt", "--lot", "H-2292",
                             "--config", config_, "--json"});
  EXPECT_EQ(said.status, ExitStatus::Done);
  EXPECT_EQ(said.json().at("assumed").at("dry_fraction"), 0.93);
  EXPECT_THAT(said.err, HasSubstr("nothing was learned of lot H-2292 yet"));
}

TEST_F(LearnedLot, IsNotMixedWithADryFractionThatIsGiven) {
  const Said said = run_cli({"dose", "--water", "200 L", "--target", "35 ppt", "--lot", "H-2291",
                             "--dry-fraction", "0.9", "--config", config_});
  EXPECT_EQ(said.status, ExitStatus::Usage);
  EXPECT_THAT(said.err, HasSubstr("give one of them"));
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

TEST(CorrectCommand, SaysHowSureItLands) {
  const std::vector<std::string_view> words{"correct", "--volume", "180 L", "--reading",
                                            "33 PSU",  "--target", "35 PSU"};
  const auto with = [&words](std::vector<std::string_view> more) {
    more.insert(more.begin(), words.begin(), words.end());
    return run_cli(more);
  };
  const auto way = with({"--json"}).json().at("corrections").at(0);
  const double half = way.at("salinity_after_high").get<double>() - 35.0;
  EXPECT_NEAR(half, 1.96 * 0.3, 0.03) << "the reading, taken as ± 0.3 PSU, outweighs all else";
  EXPECT_NEAR(35.0 - way.at("salinity_after_low").get<double>(), half, 1e-9);
  EXPECT_THAT(with({}).out, HasSubstr("lands at 35.2 ± 0.6 ppt"));
  const auto surer =
      with({"--reading-uncertainty", "0.1 PSU", "--volume-uncertainty", "1 L", "--json"})
          .json()
          .at("corrections")
          .at(0);
  EXPECT_NEAR(surer.at("salinity_after_high").get<double>() - 35.0, 1.96 * 0.1, 0.03);
  EXPECT_EQ(with({"--reading-uncertainty", "-1 PSU"}).status, ExitStatus::Usage);
}

TEST(CorrectCommand, HasNothingToSayOfABatchOnTarget) {
  const Said said =
      run_cli({"correct", "--volume", "180 L", "--reading", "35 ppt", "--target", "35 ppt"});
  EXPECT_EQ(said.status, ExitStatus::Done);
  EXPECT_THAT(said.out, HasSubstr("Nothing to correct"));
}

}  // namespace
}  // namespace brinegate::daemon
