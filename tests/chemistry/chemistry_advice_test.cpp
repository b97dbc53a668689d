// SPDX-License-Identifier: Apache-2.0
// What is said of analyses, rankings and plans. All data are invented.
#include "config/chemistry/chemistry_advice.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace brinegate::config {
namespace {

using enum Analyte;
using testing::HasSubstr;
using testing::StartsWith;

Lot lot(std::string name, int version = 1) {
  Lot made;
  made.name = std::move(name);
  made.version = version;
  made.assay.salinity = PracticalSalinity(35.0);
  return made;
}

Tank reef() {
  Tank tank;
  tank.name = "reef";
  tank.volume = Litres(800.0);
  return tank;
}

TEST(ThreeDigits, AreNeverPowersOfTenNorEndInZerosThatSayNothing) {
  EXPECT_EQ(three_digits(11032.0), "11032");
  EXPECT_EQ(three_digits(421.4), "421");
  EXPECT_EQ(three_digits(8.10), "8.1");
  EXPECT_EQ(three_digits(0.0503), "0.0503");
  EXPECT_EQ(three_digits(0.0), "0");
  EXPECT_EQ(three_digits(-3.0), "-3");
}

TEST(AssaySentences, QuoteWhatWasWrittenAndSayWhatWasMeant) {
  Assay assay;
  assay.salinity = PracticalSalinity(35.0);
  assay.values[Calcium].written = "421 ug/L";
  const double calcium = 421.0 / 1.02334;
  const AssayFinding slip{AssayFindingKind::UnitSlip, Calcium, {}, 1e-3 * calcium, 412.0, 1e3};
  EXPECT_EQ(sentence(slip, assay),
            "Calcium: 421 ug/L is a thousandth of what sea water has: was 421 mg/L meant?");
  const AssayFinding swap{AssayFindingKind::BelongsToAnother, Calcium, Magnesium, 1284.0, 412, 1};
  EXPECT_THAT(sentence(swap, assay), HasSubstr("is what sea water has of magnesium"));
  const AssayFinding balance{AssayFindingKind::ChargesDoNotBalance, {}, {}, -0.072, 0.05, 1.0};
  EXPECT_THAT(sentence(balance, assay), HasSubstr("anions exceed cations by 7.2 %"));
  const AssayFinding sum{AssayFindingKind::SalinityDoesNotFit, {}, {}, 33.1, 35.2, 1.0};
  EXPECT_THAT(sentence(sum, assay), HasSubstr("add up to 33.1 g/kg"));
  const AssayFinding all{AssayFindingKind::Impossible, {}, {}, 51.0, 35.2, 1.0};
  EXPECT_THAT(sentence(all, assay), HasSubstr("more than the 35.2 g/kg of salt"));
}

TEST(RankingHeadline, NamesTheBestLotOrThoseThatCannotBeToldApart) {
  const std::vector<Lot> lots{lot("H-2291"), lot("H-2304", 2)};
  ChangePlan plan;
  plan.fraction = 0.2;
  Ranking ranking;
  ranking.decided_by = {Calcium, Potassium};
  ranking.lots = {{1, 1, 0.1, 0.01, true, {}}, {0, 2, 0.4, 0.01, false, {}}};
  EXPECT_EQ(headline(ranking, lots, reef(), plan),
            "H-2304/2 does reef most good: with one change of 20 % it comes nearest to what is "
            "wanted. Compared by calcium and potassium.");
  ranking.lots[1].place = 1;
  EXPECT_THAT(headline(ranking, lots, reef(), plan),
              StartsWith("H-2304/2 and H-2291 cannot be told apart"));
  ranking.decided_by.clear();
  EXPECT_THAT(headline(ranking, lots, reef(), plan), HasSubstr("cannot be ranked"));
  ranking.lots[0].vetoes = {{VetoReason::Expired, {}, 0.0, 0.0}};
  EXPECT_THAT(headline(ranking, lots, reef(), plan), StartsWith("No lot may be used in reef"));
  EXPECT_EQ(sentence(ranking.lots[0].vetoes[0], lots[1], reef()), "H-2304/2 has expired.");
}

TEST(Vetoes, TellALimitThatIsPassedFromOneThatCouldNotBeSeen) {
  const Veto passed{VetoReason::AboveLimit, Copper, 0.015, 0.005};
  EXPECT_THAT(sentence(passed, lot("H-2291"), reef()), HasSubstr("would come to as much as 15."));
  const Veto unseen{VetoReason::DetectionLimitAboveLimit, Copper, 0.015, 0.005};
  EXPECT_THAT(sentence(unseen, lot("H-2291"), reef()), HasSubstr("what was not found"));
}

TEST(InRangeSentence, CountsChangesOrSaysWhereItTends) {
  const ChangePlan plan;
  const auto say = [&](std::optional<int> changes, std::optional<int> surely) {
    return sentence({changes, surely}, measured(390.0, 8.0), Calcium, reef(), plan);
  };
  EXPECT_EQ(say(0, 0), "is there now and stays");
  EXPECT_EQ(say(1, 1), "after 1 change");
  EXPECT_EQ(say(3, 5), "after 3 changes, surely after 5");
  EXPECT_EQ(say(3, std::nullopt), "after 3 changes, but never surely");
  EXPECT_THAT(say(std::nullopt, std::nullopt), StartsWith("never for good: it tends to 39"));
}

TEST(Steps, SayWhatToDoWhereOneChangeMovesTooMuch) {
  ChangePlan plan;
  plan.salinity = PracticalSalinity(33.0);
  const auto said = sentences({PracticalSalinity(-0.9), Celsius(0.0)}, reef(), plan);
  EXPECT_TRUE(said[0].too_large);
  EXPECT_THAT(said[0].text, HasSubstr("by -0.90 ppt, more than the 0.50 ppt it may"));
  EXPECT_FALSE(said[1].too_large || said[1].moves);
  EXPECT_TRUE(sentences({PracticalSalinity(0.1), Celsius(0.0)}, reef(), plan)[0].moves);
}

TEST(OutcomeSentence, SaysWhatWouldHaveToBeUsedUp) {
  Outcome outcome;
  outcome.analyte = Calcium;
  outcome.foretold = measured(420.0, 5.0);
  outcome.measured = measured(380.0, 5.0);
  outcome.score = -5.7;
  outcome.consumption_after = Consumption{Kinetics::ConstantRate, 4.0, 0.5};
  EXPECT_FALSE(agrees(outcome));
  EXPECT_THAT(sentence(outcome, reef()), HasSubstr("less than can be by chance"));
  EXPECT_THAT(sentence(outcome, reef()), HasSubstr("used instead of 0 mg/L a day"));
  outcome.score = 1.9;
  EXPECT_THAT(sentence(outcome, reef()), testing::EndsWith("they agree."));
}

TEST(ShownRange, HasOneEndWhereItBeginsAtNothing) {
  const WaterOfSample water{PracticalSalinity(35.0), Celsius(25.0), false};
  EXPECT_EQ(show_range({390.876, 439.736}, Calcium, water), "400-450");
  EXPECT_EQ(show_range({0.0, 0.0048859}, Copper, water), "up to 5");
}

}  // namespace
}  // namespace brinegate::config
