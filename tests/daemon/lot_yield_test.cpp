// SPDX-License-Identifier: Apache-2.0
// The engine learns what a lot yields from batches that it has proven, keeps it over a restart,
// uses it for the next batch of that lot, and learns nothing from a batch that does not tell.
#include <string>

#include <fmt/format.h>
#include <gtest/gtest.h>

#include "tests/safety/bench_engine.h"

namespace brinegate::daemon {
namespace {

constexpr double litres = 180.0;
constexpr double target_psu = 34.836;

// Product of this dry fraction for the bench's water.
double grams(double dry_fraction) {
  return litres * salt_grams_per_litre(PracticalSalinity(target_psu), Celsius(25.0)) / dry_fraction;
}

nlohmann::json batch_of(BenchEngine& bench) {
  return bench.request(R"({"do":"status"})")["stations"][0]["batch"];
}

// From fresh water, or on what is left, to what the salt makes.
void mix(BenchEngine& bench, double salt_g, const std::string& more = "", double rest_psu = 0.05) {
  bench.request(R"({"station":"mixer","do":"abandon"})");
  bench.salinity_psu = rest_psu;
  bench.pass(30s);
  const auto begun = bench.request(
      fmt::format(R"({{"station":"mixer","do":"begin","lot":"H-2291","profile":"reef"{}}})", more));
  ASSERT_TRUE(begun.value("ok", false)) << begun;
  bench.salinity_psu = target_psu;
  bench.request(fmt::format(R"({{"station":"mixer","do":"note","salt":"{:.3f} g"}})", salt_g));
  bench.pass(std::chrono::minutes(75));
}

nlohmann::json learned(const BenchEngine& bench) {
  const auto entries = bench.on_disk("yield-learned");
  return entries.empty() ? nlohmann::json() : nlohmann::json::parse(entries.back().body);
}

TEST(LearningALot, AProvenBatchTellsWhatTheNextOfItsLotYields) {
  BenchEngine bench;
  mix(bench, grams(0.88));
  ASSERT_EQ(batch_of(bench)["dry_fraction"], 0.93);
  const auto seen = learned(bench);
  ASSERT_TRUE(seen.is_object());
  EXPECT_NEAR(seen["observed_dry_fraction"].get<double>(), 0.88, 0.002);
  const double next = seen["dry_fraction"].get<double>();
  EXPECT_GT(next, 0.88);
  EXPECT_LT(next, 0.91);
  mix(bench, grams(0.88));
  EXPECT_NEAR(batch_of(bench)["dry_fraction"].get<double>(), next, 1e-4);
  EXPECT_EQ(batch_of(bench)["dry_fraction_learned"], true);
  EXPECT_EQ(learned(bench)["batches"], 2);
  EXPECT_LT(learned(bench)["dry_fraction"].get<double>(), next) << "closer to what it yields";
}

TEST(LearningALot, WhatWasLearnedOutlivesARestart) {
  BenchEngine before;
  mix(before, grams(0.88));
  const double next = learned(before)["dry_fraction"].get<double>();
  BenchEngine after(before.stored(), before.now());
  mix(after, grams(0.88));
  EXPECT_NEAR(batch_of(after)["dry_fraction"].get<double>(), next, 1e-4);
  EXPECT_EQ(learned(after)["batches"], 2);
}

TEST(LearningALot, ADryFractionThatIsGivenIsTakenInstead) {
  BenchEngine bench;
  mix(bench, grams(0.88));
  mix(bench, grams(0.88), R"(,"dry_fraction":0.89)");
  EXPECT_EQ(batch_of(bench)["dry_fraction"], 0.89);
  EXPECT_EQ(batch_of(bench)["dry_fraction_learned"], false);
}

TEST(LearningALot, ABatchTellsOnlyOnceHoweverOftenItIsProven) {
  BenchEngine bench;
  mix(bench, grams(0.90));
  bench.request(R"({"station":"mixer","do":"note","water":"1 L"})");
  bench.pass(std::chrono::minutes(75));
  ASSERT_EQ(bench.on_disk("proven").size(), 2U);
  EXPECT_EQ(bench.on_disk("yield-learned").size(), 1U);
}

TEST(LearningALot, ARestOfTheLastBatchTellsNothing) {
  BenchEngine bench;
  mix(bench, grams(0.93) / 2.0, "", target_psu / 2.0);
  ASSERT_EQ(bench.on_disk("proven").size(), 1U);
  EXPECT_TRUE(bench.on_disk("yield-learned").empty());
}

TEST(LearningALot, WaterTakenOutTellsNothing) {
  BenchEngine bench;
  mix(bench, grams(0.93));
  ASSERT_EQ(bench.on_disk("yield-learned").size(), 1U);
  bench.request(R"({"station":"mixer","do":"abandon"})");
  bench.salinity_psu = 0.05;
  bench.pass(30s);
  bench.request(R"({"station":"mixer","do":"begin","lot":"H-2291","profile":"reef"})");
  bench.request(fmt::format(R"({{"station":"mixer","do":"note","salt":"{:.1f} g"}})", grams(0.93)));
  bench.request(R"({"station":"mixer","do":"note","removed":"2 L"})");
  bench.salinity_psu = target_psu;
  bench.pass(std::chrono::minutes(75));
  ASSERT_EQ(bench.on_disk("proven").size(), 2U);
  EXPECT_EQ(bench.on_disk("yield-learned").size(), 1U);
}

TEST(LearningALot, ADisputedDoseTellsNothingEvenOnceItIsSettled) {
  BenchEngine bench;
  mix(bench, 0.85 * grams(0.93));
  ASSERT_EQ(bench.on_disk("rejected").size(), 1U);
  const auto rejected = nlohmann::json::parse(bench.on_disk("rejected")[0].body);
  const auto explanations = rejected["violated"][0]["explanations"];
  ASSERT_EQ(explanations.size(), 3U) << rejected;
  EXPECT_EQ(explanations[0]["suspect"], "volume");
  EXPECT_NEAR(explanations[0]["amount_l"].get<double>(), -27.0, 0.5);
  bench.request(
      fmt::format(R"({{"station":"mixer","do":"note","salt_total":"{:.1f} g"}})", grams(0.93)));
  bench.pass(std::chrono::minutes(75));
  ASSERT_EQ(bench.on_disk("proven").size(), 1U);
  EXPECT_TRUE(bench.on_disk("yield-learned").empty());
}

// Batches that weighed in less than was noted taught too high a yield: honest doses look wrong, and
// none of them can teach better.
TEST(LearningALot, WhatWasLearnedWronglyCanBeForgottenAndIsSoAfterARestart) {
  BenchEngine bench;
  for (int i = 0; i < 4; ++i)
    mix(bench, grams(0.97));
  ASSERT_EQ(bench.on_disk("proven").size(), 4U);
  mix(bench, grams(0.88));
  ASSERT_EQ(bench.on_disk("rejected").size(), 1U);
  const auto rejected = nlohmann::json::parse(bench.on_disk("rejected")[0].body);
  const std::string sentence = rejected["violated"][0]["sentence"];
  EXPECT_NE(sentence.find("brinegate lot unlearn H-2291"), std::string::npos) << sentence;

  const auto done = bench.request(R"({"id":"f","do":"lot unlearn","lot":"H-2291","by":"Ada"})");
  EXPECT_EQ(done["ok"], true) << done;
  const auto entry = nlohmann::json::parse(bench.on_disk("yield-unlearned").back().body);
  EXPECT_EQ(entry["by"], "Ada");
  EXPECT_NE(entry["was"].get<std::string>().find("H-2291 yields"), std::string::npos) << entry;

  BenchEngine after(bench.stored(), bench.now());
  mix(after, grams(0.88));
  EXPECT_EQ(batch_of(after)["dry_fraction_learned"], false);
  EXPECT_EQ(after.station()["phase"], "proven");
  EXPECT_EQ(learned(after)["batches"], 1);
}

TEST(LearningALot, WhatWasLearnedIsForgottenOnTheMachineItselfOnlyAndOnlyWhereThereIsSomething) {
  BenchEngine bench;
  const std::string forget = R"({"id":"f1","do":"lot unlearn","lot":"H-2291"})";
  const auto nothing = bench.request(forget);
  EXPECT_EQ(nothing["ok"], false);
  EXPECT_EQ(nothing["message"], "Refused: nothing was learned of lot 'H-2291'.");
  mix(bench, grams(0.88));
  for (const Origin origin : {Origin::Network, Origin::Token})
    EXPECT_EQ(bench.request(forget, origin)["ok"], false);
  mix(bench, grams(0.88));
  EXPECT_EQ(batch_of(bench)["dry_fraction_learned"], true);
}

TEST(LearningALot, TheStateShowsWhatTheDosePredictsAndHowSure) {
  BenchEngine bench;
  mix(bench, grams(0.93));
  const auto dose = bench.request(R"({"do":"status"})")["stations"][0]["dose"];
  EXPECT_NEAR(dose["predicted_g_kg"].get<double>(), 35.0, 0.06);
  EXPECT_NEAR(dose["standard_uncertainty_g_kg"].get<double>(), 0.84, 0.02);
  EXPECT_EQ(dose["volume_by"], "level");
}

TEST(LearningALot, ALotThatCannotBeReadIsAnErrorAndNotAGuess) {
  const RestoredStates broken{{"lot", "H-2291", "mixer", R"({"mean":0.9})"}};
  const auto engine = Engine::create(bench_site(), broken, BenchEngine::start());
  ASSERT_FALSE(engine.ok());
  EXPECT_NE(engine.error().message.find("H-2291"), std::string::npos);
}

}  // namespace
}  // namespace brinegate::daemon
