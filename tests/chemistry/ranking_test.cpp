// SPDX-License-Identifier: Apache-2.0
#include "rules/chemistry/ranking.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <numeric>
#include <random>

#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include "config/chemistry/content_words.h"
#include "rules/chemistry/plan_effect.h"
#include "tests/uniform.h"

namespace brinegate {
namespace {

using namespace std::chrono_literals;
using testing::ElementsAre;
using testing::IsEmpty;

constexpr Analyte ca = Analyte::Calcium;
constexpr Analyte mg = Analyte::Magnesium;
constexpr Analyte cu = Analyte::Copper;
constexpr WallTime now{std::chrono::hours(24 * 365 * 56)};

using Contents = std::map<Analyte, CensoredValue>;

Assay assay(const Contents& contents) {
  Assay result;
  result.salinity = PracticalSalinity(35.0);
  for (const auto& [analyte, content] : contents)
    result.values[analyte].content = content;
  return result;
}

Lot lot(const Contents& contents) {
  Lot result;
  result.name = "H-2291";
  result.assay = assay(contents);
  return result;
}

// Wants only what a test sets; what is usually wanted has no weight.
Tank cellar(const Contents& contents) {
  Tank tank;
  tank.volume = Litres(500.0);
  tank.salinity = PracticalSalinity(35.0);
  for (const AnalyteRow& row : analytes())
    if (row.wanted)
      tank.wanted[row.analyte] = {*row.wanted, 0.0, false, ""};
  WaterTest test;
  test.at = now - 1h;
  test.assay = assay(contents);
  tank.tests.push_back(test);
  for (const auto& [analyte, content] : contents)
    tank.consumption[analyte] = Consumption{};
  return tank;
}

void want(Tank& tank, Analyte analyte, double low, double high, double weight = 1.0,
          bool never_above = false) {
  tank.wanted[analyte] = {{low, high}, weight, never_above, "set by the keeper"};
}

ChangePlan half(int changes = 1) {
  ChangePlan plan;
  plan.fraction = 0.5;
  plan.changes = changes;
  return plan;
}

std::vector<std::size_t> order(const Ranking& ranking) {
  std::vector<std::size_t> result;
  for (const RankedLot& ranked : ranking.lots)
    result.push_back(ranked.lot);
  return result;
}

CensoredValue exactly(double content) {
  return measured(content, 0.0);
}

TEST(Ranking, ScoresTheDistanceOfWhatThePlanLeavesInHalvesOfTheRange) {
  Tank tank = cellar({{ca, exactly(380.0)}});
  want(tank, ca, 400.0, 440.0);
  // Leave 390, 405, 450: half a half of the range short, inside, half of one too much.
  const std::vector<Lot> lots{lot({{ca, exactly(400.0)}}), lot({{ca, exactly(430.0)}}),
                              lot({{ca, exactly(520.0)}})};
  const Ranking ranking = rank_lots(tank, lots, half(), now);
  EXPECT_THAT(order(ranking), ElementsAre(1, 0, 2));
  EXPECT_DOUBLE_EQ(ranking.lots[0].score, 0.0);
  EXPECT_DOUBLE_EQ(ranking.lots[1].score, 0.5);
  EXPECT_DOUBLE_EQ(ranking.lots[2].score, 0.5);
  EXPECT_EQ(ranking.lots[0].place, 1);
  EXPECT_EQ(ranking.lots[1].place, 2);
  EXPECT_EQ(ranking.lots[2].place, 2);
  EXPECT_THAT(ranking.decided_by, ElementsAre(ca));
}

TEST(Ranking, ARangeWithoutWidthIsATenthOfItsEnd) {
  Tank tank = cellar({{ca, exactly(380.0)}});
  const std::vector<Lot> lots{lot({{ca, exactly(400.0)}})};
  want(tank, ca, 400.0, 400.0);
  EXPECT_DOUBLE_EQ(rank_lots(tank, lots, half(), now).lots[0].score, 0.25);
  want(tank, ca, 400.0, HUGE_VAL);
  EXPECT_DOUBLE_EQ(rank_lots(tank, lots, half(), now).lots[0].score, 0.25);
  want(tank, ca, 0.0, 0.0);
  EXPECT_DOUBLE_EQ(rank_lots(tank, lots, half(), now).lots[0].score, 0.0);
}

TEST(Ranking, IsWeighted) {
  Tank tank = cellar({{ca, exactly(380.0)}, {mg, exactly(1300.0)}});
  want(tank, ca, 400.0, 440.0, 3.0);
  want(tank, mg, 1300.0, 1400.0, 1.0);
  // 390: a half; 1275: a half. Then 390 and 1300.
  const std::vector<Lot> lots{lot({{ca, exactly(400.0)}, {mg, exactly(1250.0)}}),
                              lot({{ca, exactly(400.0)}, {mg, exactly(1300.0)}})};
  const Ranking ranking = rank_lots(tank, lots, half(), now);
  EXPECT_THAT(order(ranking), ElementsAre(1, 0));
  EXPECT_DOUBLE_EQ(ranking.lots[0].score, 0.375);
  EXPECT_DOUBLE_EQ(ranking.lots[1].score, 0.5);
}

TEST(Ranking, WhatSomeLotDoesNotNameOrTheTankWasNotTestedForDecidesNothing) {
  Tank tank = cellar({{ca, exactly(380.0)}, {mg, exactly(1300.0)}});
  want(tank, ca, 400.0, 440.0);
  want(tank, mg, 1300.0, 1400.0);
  want(tank, cu, 0.0, 0.005);
  const std::vector<Lot> lots{lot({{ca, exactly(400.0)}, {cu, exactly(1.0)}}),
                              lot({{ca, exactly(400.0)}, {mg, exactly(10.0)}, {cu, exactly(0.0)}})};
  const Ranking ranking = rank_lots(tank, lots, half(), now);
  EXPECT_THAT(ranking.decided_by, ElementsAre(ca));
  EXPECT_THAT(ranking.not_in_every_lot, ElementsAre(mg));
  EXPECT_THAT(ranking.not_tested, ElementsAre(cu));
  EXPECT_DOUBLE_EQ(ranking.lots[1].score, 0.5);
  EXPECT_TRUE(ranking.lots[1].ties_with_first);
  EXPECT_EQ(ranking.lots[1].place, 1);
}

TEST(Ranking, WithNothingInCommonAllTie) {
  const Tank tank = cellar({{ca, exactly(380.0)}});
  const std::vector<Lot> lots{lot({{ca, exactly(1.0)}}), lot({})};
  const Ranking ranking = rank_lots(tank, lots, half(), now);
  EXPECT_THAT(ranking.decided_by, IsEmpty());
  EXPECT_EQ(ranking.lots[1].place, 1);
  EXPECT_THAT(rank_lots(tank, {}, half(), now).lots, IsEmpty());
}

TEST(Ranking, AnalysesThatAreUncertainTie) {
  Tank tank = cellar({{ca, measured(380.0, 50.0)}});  // shifts both alike
  want(tank, ca, 400.0, 440.0);
  const auto lots = [](double uncertainty) {
    return std::vector<Lot>{lot({{ca, measured(400.0, uncertainty)}}),
                            lot({{ca, measured(390.0, uncertainty)}})};
  };
  // 390 and 385 are told apart while half of 10 is more than 1.96 times half of √2 u: u below 3.61.
  EXPECT_FALSE(rank_lots(tank, lots(3.55), half(), now).lots[1].ties_with_first);
  EXPECT_EQ(rank_lots(tank, lots(3.55), half(), now).lots[1].place, 2);
  EXPECT_TRUE(rank_lots(tank, lots(3.65), half(), now).lots[1].ties_with_first);
  EXPECT_EQ(rank_lots(tank, lots(3.65), half(), now).lots[1].place, 1);
  EXPECT_NEAR(rank_lots(tank, lots(3.65), half(), now).lots[0].standard_uncertainty,
              0.5 * 3.65 / 20.0, 1e-9);
}

TEST(Ranking, APlaceIsSharedOnlyWithItsFirst) {
  Tank tank = cellar({{ca, exactly(380.0)}});
  want(tank, ca, 400.0, 440.0);
  // Each ties with its neighbour; the third does not with the first.
  const std::vector<Lot> lots{lot({{ca, measured(400.0, 3.0)}}), lot({{ca, measured(393.0, 3.0)}}),
                              lot({{ca, measured(386.0, 3.0)}}), lot({{ca, measured(379.0, 3.0)}})};
  const Ranking ranking = rank_lots(tank, lots, half(), now);
  std::vector<int> places;
  for (const RankedLot& ranked : ranking.lots)
    places.push_back(ranked.place);
  EXPECT_THAT(places, ElementsAre(1, 1, 3, 3));
}

TEST(Ranking, WhatMayBeOutsideItsRangeIsUncertainAlsoWhereItIsLikelyInside) {
  Tank tank = cellar({{ca, exactly(400.0)}});
  want(tank, ca, 400.0, 440.0);
  const std::vector<Lot> lots{lot({{ca, measured(402.0, 10.0)}}),
                              lot({{ca, measured(478.0, 10.0)}}),
                              lot({{ca, measured(420.0, 1.0)}})};
  const Ranking ranking = rank_lots(tank, lots, half(), now);
  std::array<RankedLot, 3> ranked;
  for (const RankedLot& each : ranking.lots)
    ranked[each.lot] = each;
  EXPECT_EQ(ranked[0].score, 0.0);
  EXPECT_GT(ranked[0].standard_uncertainty, 0.0);
  EXPECT_GT(ranked[1].standard_uncertainty, 0.0);
  EXPECT_EQ(ranked[2].standard_uncertainty, 0.0);
  EXPECT_EQ(ranking.lots[0].lot, 2u);  // as good as the first, and surely so
}

TEST(Veto, OfALotThatBringsTheTankAboveWhatItMayNeverBe) {
  Tank tank = cellar({{cu, exactly(0.002)}});
  want(tank, cu, 0.0, 0.005, 0.0, true);
  const auto vetoes = [&](const CensoredValue& content) {
    const std::vector<Lot> lots{lot({{cu, content}})};
    return rank_lots(tank, lots, half(), now).lots[0].vetoes;
  };
  EXPECT_THAT(vetoes(exactly(0.007)), IsEmpty());  // leaves 0.0045
  EXPECT_THAT(vetoes(exactly(0.010)), ElementsAre(Veto{VetoReason::AboveLimit, cu, 0.006, 0.005}));
  EXPECT_THAT(vetoes(below(0.010)),
              ElementsAre(Veto{VetoReason::DetectionLimitAboveLimit, cu, 0.006, 0.005}));
  EXPECT_THAT(vetoes(below(0.007)), IsEmpty());
  ASSERT_EQ(vetoes(measured(0.007, 0.001)).size(), 1u);  // leaves 0.0045, at most 0.0055
  EXPECT_EQ(vetoes(measured(0.007, 0.001))[0].reason, VetoReason::AboveLimit);
}

TEST(Veto, DoesNotHoldTheTanksOwnAgainstALotThatLowersIt) {
  Tank tank = cellar({{cu, exactly(0.100)}});
  want(tank, cu, 0.0, 0.005, 0.0, true);
  const std::vector<Lot> lots{lot({{cu, exactly(0.004)}}), lot({{cu, exactly(0.006)}})};
  const Ranking ranking = rank_lots(tank, lots, half(), now);
  EXPECT_THAT(ranking.lots[0].vetoes, IsEmpty());
  EXPECT_EQ(ranking.lots[1].vetoes.size(), 1u);
}

TEST(Veto, OfAnUntestedTankIsByWhatTheLotAloneBrings) {
  Tank tank = cellar({});
  want(tank, cu, 0.0, 0.005, 1.0, true);
  const std::vector<Lot> lots{lot({{cu, exactly(0.009)}}), lot({{cu, exactly(0.011)}})};
  const Ranking ranking = rank_lots(tank, lots, half(), now);
  EXPECT_THAT(ranking.lots[0].vetoes, IsEmpty());
  EXPECT_EQ(ranking.lots[1].vetoes.size(), 1u);
}

TEST(Veto, PutsALotBehindAllOthersAndOutOfTheTie) {
  Tank tank = cellar({{ca, exactly(380.0)}});
  want(tank, ca, 400.0, 440.0);
  std::vector<Lot> lots{lot({{ca, exactly(420.0)}}), lot({{ca, exactly(300.0)}}),
                        lot({{ca, exactly(420.0)}})};
  lots[0].expires = now - 1ns;
  lots[2].expires = now;
  const Ranking ranking = rank_lots(tank, lots, half(), now);
  EXPECT_THAT(order(ranking), ElementsAre(2, 1, 0));
  EXPECT_THAT(ranking.lots[2].vetoes,
              ElementsAre(Veto{VetoReason::Expired, std::nullopt, 0.0, 0.0}));
  EXPECT_FALSE(ranking.lots[2].ties_with_first);
  EXPECT_EQ(ranking.lots[2].place, 3);
}

TEST(Opened, TellsWhatEveryAnalyteComesToAndTheSharesAddUp) {
  Tank tank = cellar({{ca, measured(380.0, 4.0)}, {mg, exactly(1300.0)}, {cu, exactly(0.0)}});
  want(tank, ca, 400.0, 440.0, 3.0);
  want(tank, mg, 1300.0, 1400.0, 1.0);
  want(tank, cu, 0.0, 0.005, 0.0);
  ChangePlan plan = half();
  plan.salinity = PracticalSalinity(34.0);
  const std::vector<Lot> lots{
      lot({{ca, measured(350.0, 7.0)}, {mg, exactly(700.0)}, {cu, exactly(0.070)}})};
  const Ranking ranking = rank_lots(tank, lots, plan, now);
  const auto rows = opened(tank, lots[0], ranking.decided_by, plan, now);
  ASSERT_EQ(rows.size(), 3u);
  const auto row = std::find_if(rows.begin(), rows.end(),
                                [](const RankedAnalyte& one) { return one.analyte == ca; });
  EXPECT_DOUBLE_EQ(row->tank.middle(), 380.0);
  EXPECT_DOUBLE_EQ(row->new_water.middle(), 340.0);
  EXPECT_DOUBLE_EQ(row->after.middle(), 360.0);
  EXPECT_NEAR(row->after.standard_uncertainty, std::hypot(2.0, 3.4), 1e-9);
  EXPECT_DOUBLE_EQ(row->distance, 2.0);
  EXPECT_DOUBLE_EQ(row->share_of_score, 1.5);
  EXPECT_EQ(rows[2].analyte, cu);
  EXPECT_GT(rows[2].distance, 0.0);
  EXPECT_EQ(rows[2].share_of_score, 0.0);
  double sum = 0.0;
  for (const RankedAnalyte& one : rows)
    sum += one.share_of_score;
  EXPECT_DOUBLE_EQ(sum, ranking.lots[0].score);
}

TEST(Opened, CountsWhatTheTankUsesUntilTheChange) {
  Tank tank = cellar({{ca, exactly(420.0)}});
  want(tank, ca, 400.0, 440.0);
  tank.consumption[ca] = {Kinetics::ConstantRate, 2.0, 0.0};
  const std::vector<Lot> lots{lot({{ca, exactly(440.0)}})};
  const auto rows = opened(tank, lots[0], std::vector{ca}, half(), now);
  const double at_begin = 420.0 - 2.0 / 24.0;
  EXPECT_NEAR(rows.at(0).tank.middle(), at_begin, 1e-9);
  EXPECT_NEAR(rows.at(0).after.middle(), 0.5 * (at_begin - 14.0 + 440.0), 1e-9);
}

TEST(WhatDecides, TellsWhatTheNewWaterWouldNeed) {
  Tank tank = cellar({{ca, exactly(380.0)}, {mg, exactly(1300.0)}});
  want(tank, ca, 400.0, 440.0, 3.0);
  want(tank, mg, 1300.0, 1400.0, 1.0);
  const std::vector<Lot> lots{lot({{ca, exactly(420.0)}, {mg, exactly(1250.0)}}),
                              lot({{ca, exactly(400.0)}, {mg, exactly(1900.0)}})};
  const Ranking ranking = rank_lots(tank, lots, half(), now);
  ASSERT_THAT(order(ranking), ElementsAre(0, 1));
  const auto deciding = what_decides(tank, lots[1], lots[0], ranking.decided_by, half(), now);
  ASSERT_EQ(deciding.size(), 2u);
  // 1600 is four halves of the range too much, the other half a half too little.
  EXPECT_EQ(deciding[0].analyte, mg);
  EXPECT_DOUBLE_EQ(deciding[0].cost, 0.25 * 3.5);
  EXPECT_DOUBLE_EQ(deciding[0].new_water, 1900.0);
  EXPECT_NEAR(deciding[0].would_need, 1500.0, 1e-9);
  EXPECT_EQ(deciding[1].analyte, ca);
  EXPECT_NEAR(deciding[1].would_need, 420.0, 1e-9);
  double cost = 0.0;
  for (const Deciding& one : deciding)
    cost += one.cost;
  EXPECT_DOUBLE_EQ(cost, ranking.lots[1].score - ranking.lots[0].score);
}

RC_GTEST_PROP(WhatDecides, WhatItNeedsLeavesTheEndOfTheRange, ()) {
  const bool clamps = *rc::gen::arbitrary<bool>();
  ChangePlan plan;
  plan.fraction = uniform(0.05, 1.0);
  plan.changes = *rc::gen::inRange(1, 20);
  const PlanEffect effect(uniform(0.0, 20.0), Kinetics::ConstantRate,
                          clamps ? uniform(1.0, 5.0) : 0.0, plan, plan.changes);
  const double wanted = uniform(1.0, 30.0);
  RC_ASSERT(std::abs(effect(effect.new_water_for(wanted)) - wanted) < 1e-9);
}

// --- Properties on many lots ---------------------------------------------------------------------

const std::vector<Analyte> some_analytes{ca, mg, Analyte::Potassium, Analyte::Iodine, cu};

struct Market {
  Tank tank = cellar({});
  std::vector<Lot> lots;
  ChangePlan plan;
};

double natural(Analyte analyte) {
  return *analyte_row(analyte).natural;
}

Market market() {
  Market result;
  Contents tank;
  for (const Analyte analyte : some_analytes)
    tank[analyte] = measured(natural(analyte) * uniform(0.5, 2.0), 0.0);
  result.tank = cellar(tank);
  for (const Analyte analyte : some_analytes)
    want(result.tank, analyte, natural(analyte) * 0.9, natural(analyte) * uniform(0.95, 1.3),
         uniform(0.5, 2.0), analyte == cu);
  for (int count = *rc::gen::inRange(2, 12); count > 0; --count) {
    Contents contents;
    for (const Analyte analyte : some_analytes) {
      const double content = natural(analyte) * uniform(0.7, 1.5);
      contents[analyte] = measured(content, uniform(0.0, 0.05) * content);
    }
    result.lots.push_back(lot(contents));
  }
  result.plan.fraction = uniform(0.05, 0.6);
  result.plan.changes = *rc::gen::inRange(1, 10);
  return result;
}

std::vector<RankedLot> as_given(const Ranking& ranking) {
  std::vector<RankedLot> lots(ranking.lots.size());
  for (const RankedLot& ranked : ranking.lots)
    lots[ranked.lot] = ranked;
  return lots;
}

RC_GTEST_PROP(Ranking, DoesNotChangeWithTheOrderOfTheLots, ()) {
  const Market given = market();
  std::vector<std::size_t> shuffled(given.lots.size());
  std::iota(shuffled.begin(), shuffled.end(), 0);
  std::shuffle(shuffled.begin(), shuffled.end(),
               std::mt19937(static_cast<unsigned>(*rc::gen::inRange(0, 1000))));
  std::vector<Lot> lots;
  for (const std::size_t i : shuffled)
    lots.push_back(given.lots[i]);
  const auto before = as_given(rank_lots(given.tank, given.lots, given.plan, now));
  const auto after = as_given(rank_lots(given.tank, lots, given.plan, now));
  for (std::size_t i = 0; i < lots.size(); ++i) {
    RC_ASSERT(after[i].score == before[shuffled[i]].score);
    RC_ASSERT(after[i].place == before[shuffled[i]].place);
    RC_ASSERT(after[i].ties_with_first == before[shuffled[i]].ties_with_first);
    RC_ASSERT(after[i].vetoes == before[shuffled[i]].vetoes);
  }
}

RC_GTEST_PROP(Ranking, DoesNotChangeWithTheOrderOfTheAnalytes, ()) {
  Market given = market();
  const auto before = rank_lots(given.tank, given.lots, given.plan, now);
  for (Lot& one : given.lots) {
    std::map<Analyte, AssayValue> turned;
    for (auto value = one.assay.values.rbegin(); value != one.assay.values.rend(); ++value)
      turned.insert(turned.begin(), *value);
    one.assay.values = turned;
  }
  const auto after = rank_lots(given.tank, given.lots, given.plan, now);
  RC_ASSERT(order(after) == order(before));
  for (std::size_t i = 0; i < given.lots.size(); ++i)
    RC_ASSERT(after.lots[i].score == before.lots[i].score);
}

// The same contents as a person may write them, read again.
Lot rewritten(const Lot& written, int unit) {
  Lot result = written;
  for (auto& [analyte, value] : result.assay.values) {
    const double content = value.content.middle();
    const double molar_mass = analyte_row(analyte).molar_mass;
    const double per_litre = per_litre_of_content(content, result.assay.salinity, Celsius(25.0));
    const std::vector<std::string> texts{
        fmt::format("{:.18f} mg/L", per_litre), fmt::format("{:.15f} ug/L", 1000.0 * per_litre),
        fmt::format("{:.18f} mg/kg", content),
        fmt::format("{:.15f} umol/kg", 1000.0 * content / molar_mass)};
    const double uncertainty = value.content.standard_uncertainty;
    value.content = config::parse_content(texts[static_cast<std::size_t>(unit)], {analyte, 1.0}, {})
                        .value()
                        .content;
    value.content.standard_uncertainty = uncertainty;
  }
  return result;
}

RC_GTEST_PROP(Ranking, DoesNotChangeWithTheUnitThatAValueWasWrittenIn, ()) {
  const Market given = market();
  std::vector<Lot> lots;
  for (const Lot& one : given.lots)
    lots.push_back(rewritten(one, *rc::gen::inRange(0, 4)));
  const auto before = as_given(rank_lots(given.tank, given.lots, given.plan, now));
  const auto after = as_given(rank_lots(given.tank, lots, given.plan, now));
  for (std::size_t i = 0; i < lots.size(); ++i) {
    RC_ASSERT(std::abs(after[i].score - before[i].score) < 1e-6);
    RC_ASSERT(after[i].place == before[i].place);
    RC_ASSERT(after[i].vetoes.size() == before[i].vetoes.size());
  }
}

RC_GTEST_PROP(Ranking, IsWhatTheOpenedLotsAddUpTo, ()) {
  const Market given = market();
  const Ranking ranking = rank_lots(given.tank, given.lots, given.plan, now);
  for (const RankedLot& ranked : ranking.lots) {
    double sum = 0.0;
    for (const RankedAnalyte& row :
         opened(given.tank, given.lots[ranked.lot], ranking.decided_by, given.plan, now)) {
      const auto after = after_changes(row.tank, row.new_water, {}, given.plan).after;
      RC_ASSERT(std::abs(after.middle() - row.after.middle()) <= 1e-9 * after.middle());
      sum += row.share_of_score;
    }
    RC_ASSERT(std::abs(sum - ranked.score) <= 1e-9 * (1.0 + sum));
  }
}

// Lots whose truth is known, analysed with the errors that the analyses state: what is told apart
// must be in the right order in 95 of 100 cases.
TEST(Ranking, IsSeldomWrongWhereItTellsApart) {
  std::mt19937_64 random(20261125);
  std::normal_distribution<double> normal;
  const auto evenly = [&](double low, double high) {
    return std::uniform_real_distribution<>(low, high)(random);
  };
  int told = 0;
  int wrong = 0;
  int tied = 0;
  for (int draw = 0; draw < 3000; ++draw) {
    Tank tank =
        cellar({{ca, exactly(evenly(380.0, 440.0))}, {mg, exactly(evenly(1200.0, 1400.0))}});
    want(tank, ca, 400.0, 440.0);
    want(tank, mg, 1280.0, 1360.0);
    std::vector<Lot> truth;
    std::vector<Lot> analysed;
    for (int i = 0; i < 2; ++i) {
      const double calcium = evenly(380.0, 480.0);
      const double magnesium = evenly(1150.0, 1500.0);
      truth.push_back(lot({{ca, exactly(calcium)}, {mg, exactly(magnesium)}}));
      analysed.push_back(lot({{ca, measured(calcium + 12.0 * normal(random), 12.0)},
                              {mg, measured(magnesium + 40.0 * normal(random), 40.0)}}));
    }
    const auto stated = rank_lots(tank, analysed, half(3), now);
    if (stated.lots[1].ties_with_first) {
      ++tied;
      continue;
    }
    ++told;
    const auto right = as_given(rank_lots(tank, truth, half(3), now));
    wrong += right[stated.lots[0].lot].score > right[stated.lots[1].lot].score ? 1 : 0;
  }
  EXPECT_GT(told, 300);
  EXPECT_GT(tied, 500);
  EXPECT_LT(wrong, 0.05 * told);
}

}  // namespace
}  // namespace brinegate
