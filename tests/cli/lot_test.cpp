// SPDX-License-Identifier: Apache-2.0
#include <fstream>
#include <iostream>
#include <sstream>
#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "daemon/command_text.h"
#include "daemon/data_lock.h"
#include "tests/cli/shop.h"

namespace brinegate::daemon {
namespace {

using testing::HasSubstr;
using testing::Not;

TEST(LotCommands, KeepWhatIsAddedAndNumberItsVersions) {
  const Shop shop;
  const Said first = shop.run({"lot", "add", Shop::example("h-2291.json"), "--by", "keeper"});
  EXPECT_EQ(first.status, ExitStatus::Done) << first.err;
  EXPECT_THAT(first.out, HasSubstr("H-2291 is on record, version 1"));
  const Said same = shop.run({"lot", "add", Shop::example("h-2291.json")});
  EXPECT_EQ(same.status, ExitStatus::Refused);
  EXPECT_THAT(same.err, HasSubstr("on record already"));
  const Said again =
      shop.run({"lot", "add", shop.changed("h-2291.json", "421 mg/L", "425 mg/L"), "--json"});
  EXPECT_EQ(again.json().at("version"), 2);
  EXPECT_EQ(again.json().at("findings").size(), 0U);

  const auto listed = shop.run({"lot", "list", "--json"}).json().at("lots");
  ASSERT_EQ(listed.size(), 1U);
  EXPECT_EQ(listed[0].at("version"), 2);
  EXPECT_EQ(listed[0].at("expires"), "2039-03-02");
  const auto old = shop.run({"lot", "show", "H-2291/1", "--json"}).json();
  EXPECT_EQ(row_of(old.at("analytes"), "Ca").at("written"), "421 mg/L");
  EXPECT_EQ(old.at("entered_by"), "keeper");
  EXPECT_EQ(shop.run({"lot", "show", "H-2291/3"}).status, ExitStatus::Usage);
}

TEST(LotCommands, SayWhatANameWasProbablyMeant) {
  const Shop shop;
  shop.fill();
  const Said said = shop.run({"lot", "show", "H-2219"});
  EXPECT_EQ(said.status, ExitStatus::Usage);
  EXPECT_THAT(said.err, HasSubstr("did you mean 'H-2291'"));
  EXPECT_THAT(shop.run({"lot", "show", "h-9.csv"}).err, HasSubstr("there is no file h-9.csv"));
}

TEST(LotCommands, ShowALotAtAnotherSalinity) {
  const Shop shop;
  const std::string file = Shop::example("h-2291.json");
  const auto analysed = shop.run({"lot", "show", file, "--json"}).json();
  const auto thinner = shop.run({"lot", "show", file, "--salinity", "33 ppt", "--json"}).json();
  const auto calcium = row_of(analysed.at("analytes"), "Ca").at("content");
  EXPECT_NEAR(calcium.at("high").get<double>(), 421.0, 0.5);
  EXPECT_EQ(calcium.at("low"), calcium.at("high"));
  // By mass in proportion to the salt; a litre of thinner water is a little lighter.
  EXPECT_NEAR(row_of(thinner.at("analytes"), "Ca").at("content").at("high").get<double>() / 421.0,
              33.0 / 35.0, 0.003);
  EXPECT_NEAR(thinner.at("at").at("reference_salinity_g_kg").get<double>(), 33.0, 1e-3);
  const auto iron = row_of(analysed.at("analytes"), "Fe").at("content");
  EXPECT_EQ(iron.at("low"), 0.0) << "not found is not zero";
  EXPECT_NEAR(iron.at("high").get<double>(), 2.0, 0.01);
  const Said text = shop.run({"lot", "show", file});
  EXPECT_THAT(text.out, HasSubstr("Major ions"));
  EXPECT_THAT(text.out, HasSubstr("< 2"));
  EXPECT_THAT(text.out, HasSubstr("421 mg/L"));
}

TEST(LotCommands, StoreNothingWhereALineCannotBeReadAndNameEachSuchLine) {
  const Shop shop;
  const Said said = shop.run(
      {"lot", "add",
       shop.file("bad.csv", "analyte,value,unit\nCa,421,mg/L\nMg,many,mg/L\nK,399,stone\n"),
       "--name", "H-1", "--salinity", "35 ppt"});
  EXPECT_EQ(said.status, ExitStatus::Usage);
  EXPECT_THAT(said.err, HasSubstr("bad.csv:3:"));
  EXPECT_THAT(said.err, HasSubstr("bad.csv:4:"));
  EXPECT_EQ(said.out, "");
  EXPECT_FALSE(std::filesystem::exists(shop.data()));
}

TEST(LotCommands, ReportEveryOptionThatCannotBeRead) {
  const Shop shop;
  const Said said = shop.run({"lot", "add", Shop::example("h-2304.csv"), "--salinity", "35",
                              "--expires", "soon", "--dry-fraction", "93"});
  EXPECT_EQ(said.status, ExitStatus::Usage);
  for (const char* option : {"--salinity", "--expires", "--dry-fraction"})
    EXPECT_THAT(said.err, HasSubstr(option));
}

TEST(LotCommands, SayWhatCannotBeRightOfAnAnalysis) {
  const Shop shop;
  const std::string slip = shop.changed("h-2291.json", "421 mg/L", "421 ug/L");
  const Said added = shop.run({"lot", "add", slip});
  EXPECT_EQ(added.status, ExitStatus::Done);
  EXPECT_THAT(added.out, HasSubstr("- Calcium: 421 ug/L is a thousandth of what sea water has"));
  const auto shown = shop.run({"lot", "show", "H-2291", "--json"}).json();
  EXPECT_EQ(shown.at("sanity").at("findings").at(0).at("kind"), "unit-slip");
  EXPECT_EQ(shown.at("sanity").at("findings").at(0).at("analyte"), "Ca");
  EXPECT_THAT(shop.run({"lot", "show", "H-2291"}).out, HasSubstr("What cannot be right"));
  EXPECT_THAT(shop.run({"lot", "list"}).out, HasSubstr("1 finding"));
}

TEST(LotCommands, ReadAnAnalysisFromTheStandardInput) {
  const Shop shop;
  std::istringstream input(config::content_of("config/examples/h-2291.json"));
  std::streambuf* const before = std::cin.rdbuf(input.rdbuf());
  const Said said = shop.run({"lot", "add", "-"});
  std::cin.rdbuf(before);
  EXPECT_EQ(said.status, ExitStatus::Done) << said.err;
}

TEST(LotCommands, DoNotTouchARecordThatADaemonHolds) {
  const Shop shop;
  const auto held = DataLock::take(shop.data());
  ASSERT_TRUE(held.ok());
  const Said said = shop.run({"lot", "add", Shop::example("h-2291.json")});
  EXPECT_EQ(said.status, ExitStatus::Unreachable) << "it holds the lock and does not answer";
}

TEST(LotCommands, LendTheirStatedDryFractionToTheDoseWhereNothingWasLearned) {
  const Shop shop;
  const std::vector<std::string> dose{"dose",   "--water", "200 L",  "--target",
                                      "35 ppt", "--lot",   "H-2291", "--json"};
  ASSERT_EQ(shop.run({"lot", "add", shop.changed("h-2291.json", "0.93", "0.88")}).status,
            ExitStatus::Done);
  const Said said = shop.run(dose);
  EXPECT_EQ(said.status, ExitStatus::Done);
  EXPECT_DOUBLE_EQ(said.json().at("assumed").at("dry_fraction").get<double>(), 0.88);
  EXPECT_FALSE(said.json().at("assumed").at("dry_fraction_learned").get<bool>());
  EXPECT_THAT(said.err, HasSubstr("stated with it"));
}

TEST(LotCompare, PutsLotsSideBySideAgainstTheTank) {
  const Shop shop;
  const std::vector<std::string> words{"lot",
                                       "compare",
                                       Shop::example("h-2291.json"),
                                       Shop::example("h-2317.txt"),
                                       "--tank",
                                       Shop::example("reef.json"),
                                       "--test",
                                       Shop::example("reef-test.json")};
  std::vector<std::string> json = words;
  json.emplace_back("--json");
  const auto view = shop.run(json).json();
  EXPECT_EQ(view.at("tank"), "reef");
  EXPECT_EQ(view.at("lots").at(1).at("lot"), "H-2317");
  const auto potassium = row_of(view.at("analytes"), "K");
  EXPECT_NEAR(potassium.at("tank").at("high").get<double>(), 351.0, 1.0);
  EXPECT_NEAR(potassium.at("lots").at(1).at("high").get<double>(), 411.0, 1.0);
  EXPECT_TRUE(row_of(view.at("analytes"), "Ba").at("lots").at(1).is_null());
  const Said text = shop.run(words);
  EXPECT_EQ(text.status, ExitStatus::Done) << text.err;
  EXPECT_THAT(text.out, HasSubstr("T reef now, a H-2291, b H-2317"));
}

TEST(LotRank, PutsTheBestLotFirstAndAVetoedOneBehind) {
  const Shop shop;
  shop.fill();
  const Said said = shop.run({"lot", "rank", "--tank", "reef", "--change", "20 %", "--json"});
  EXPECT_EQ(said.status, ExitStatus::Done) << said.err;
  const auto lots = said.json().at("lots");
  ASSERT_EQ(lots.size(), 3U);
  EXPECT_EQ(lots[0].at("place"), 1);
  EXPECT_EQ(lots[2].at("lot"), "H-2317") << "copper";
  EXPECT_EQ(lots[2].at("vetoes").at(0).at("analyte"), "Cu");
  EXPECT_LE(lots[0].at("score").get<double>(), lots[1].at("score").get<double>());
  EXPECT_NEAR(row_of(lots[0].at("analytes"), "Ca").at("tank").at("high").get<double>(), 392.0, 1.0);
  const Said text = shop.run({"lot", "rank", "--tank", "reef", "--change", "20 %"});
  EXPECT_THAT(text.out, HasSubstr("Vetoed. Copper"));
  EXPECT_EQ(text.out.rfind(said.json().at("headline").get<std::string>().substr(0, 20), 0), 0U);
}

TEST(LotRank, HasStatusOneWhereNoLotMayBeUsed) {
  const Shop shop;
  const Said said =
      shop.run({"lot", "rank", Shop::example("h-2317.txt"), "--tank", Shop::example("reef.json"),
                "--test", Shop::example("reef-test.json"), "--change", "20 %"});
  EXPECT_EQ(said.status, ExitStatus::Refused);
  EXPECT_THAT(said.out, HasSubstr("No lot may be used in reef"));
}

TEST(LotRank, TakesAVolumeForAChangeAndRefusesAnImpossibleOne) {
  const Shop shop;
  shop.fill();
  const auto rank = [&](const std::string& change) {
    return shop.run({"lot", "rank", "--tank", "reef", "--change", change, "--json"});
  };
  EXPECT_DOUBLE_EQ(rank("80 L").json().at("plan").at("fraction").get<double>(), 0.1);
  EXPECT_EQ(rank("801 L").status, ExitStatus::Usage);
  EXPECT_EQ(rank("0 %").status, ExitStatus::Usage);
  EXPECT_THAT(rank("some").err, HasSubstr("write \"20 %\" or \"80 L\""));
}

TEST(LotTexts, FitTheTerminal) {
  const Shop shop;
  shop.fill();
  const std::vector<std::vector<std::string>> commands{
      {"lot", "list"},
      {"lot", "show", "H-2317"},
      {"lot", "compare", "H-2291", "H-2304", "H-2317", "H-2291", "--tank", "reef"},
      {"lot", "rank", "--tank", "reef", "--change", "20 %", "--times", "4"},
      {"tank", "list"},
      {"tank", "show", "reef"},
      {"tank", "forecast", "reef", "--lot", "H-2304", "--change", "10 %", "--times", "8"}};
  for (const auto& words : commands) {
    const Said said = shop.run(words);
    EXPECT_EQ(said.status, ExitStatus::Done) << said.err;
    std::istringstream lines(said.out);
    for (std::string line; std::getline(lines, line);)
      EXPECT_LE(columns_of(line), terminal_columns) << line;
  }
}

}  // namespace
}  // namespace brinegate::daemon
