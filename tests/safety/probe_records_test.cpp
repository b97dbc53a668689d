// SPDX-License-Identifier: Apache-2.0
// What the engine knows of its instruments: the budget of a salinity, what it leaves of the
// tolerance, and the health of the cells, kept over restarts.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/safety/bench_engine.h"

namespace brinegate::daemon {
namespace {

using ::testing::HasSubstr;

constexpr Duration one_day = std::chrono::hours(24);

nlohmann::json state(BenchEngine& bench) {
  return bench.request(R"({"do":"status"})").at("stations").at(0);
}

// 180 L of 34.836 PSU at 25 °C hold 6.45 kg of salt (TEOS-10 density 1023.3 kg/m3), which is 6.93
// kg of a product of 93 %.
void prove_with_salt(BenchEngine& bench, const std::string& salt = "6.93 kg") {
  bench.pass(30s);
  bench.shown[BenchEngine::height] = 0.0;
  bench.pass(20s);
  bench.request(R"({"station":"mixer","do":"begin","lot":"H-2291","profile":"reef","salt":")" +
                salt + R"("})");
  bench.shown[BenchEngine::height] = 180.0;
  bench.pass(std::chrono::minutes(45));
}

BenchEngine restarted(const BenchEngine& before, Duration away) {
  Instant now = before.now();
  now.mono += away;
  now.wall += away;
  return BenchEngine(before.stored(), now);
}

TEST(Instruments, StateHoldsTheBudgetAndWhatItLeavesOfTheTolerance) {
  BenchEngine bench;
  bench.prove();
  const auto station = state(bench);
  const auto& budget = station.at("salinity").at("budget_g_kg");
  for (const char* part :
       {"calibration", "drift", "resolution", "noise", "temperature", "salt_factor"})
    EXPECT_TRUE(budget.at(part).is_number()) << part;
  EXPECT_GT(budget.at("calibration"), 0.1);
  EXPECT_GT(station.at("salinity").at("cells").at("cell_a").at("budget_g_kg").at("calibration"),
            0.1);
  const auto& acceptance = station.at("acceptance");
  EXPECT_GT(acceptance.at("half_width_g_kg"), 0.1);
  EXPECT_LT(acceptance.at("half_width_g_kg"), acceptance.at("tolerance_g_kg"));
  EXPECT_FALSE(acceptance.at("wider").empty());
  EXPECT_THAT(acceptance.at("sentence").get<std::string>(), HasSubstr("would leave"));
}

TEST(Instruments, StateHoldsTheForecastOnceThereIsACourse) {
  BenchEngine bench;
  bench.pass(30s);
  EXPECT_TRUE(state(bench).at("forecast").is_null());
  bench.prove();
  const auto forecast = state(bench).at("forecast");
  EXPECT_NEAR(forecast.at("final_g_kg").get<double>(),
              state(bench).at("salinity").at("reference_salinity_g_kg").get<double>(), 0.05);
  EXPECT_GE(forecast.at("settled_probability"), 0.95);
  EXPECT_GT(forecast.at("final_uncertainty_g_kg"), 0.1);
}

TEST(Instruments, ACellNeverCalibratedHereDriftsFromTheDayItWasFirstRead) {
  BenchEngine before;
  before.pass(30s);
  BenchEngine after = restarted(before, 100 * one_day);
  after.pass(30s);
  const auto health = state(after).at("probe_health").at("cell_a");
  EXPECT_TRUE(health.at("calibrated").is_null());
  EXPECT_NEAR(health.at("days_since_calibration"), 100.0, 0.1);
}

TEST(Instruments, DriftOfManyDaysLeavesNothingOfTheToleranceUntilACalibration) {
  BenchEngine fresh;
  fresh.prove();
  EXPECT_EQ(state(fresh).at("phase"), "proven");
  BenchEngine old = restarted(fresh, 120 * one_day);
  old.pass(10s);
  ASSERT_TRUE(old.request(R"({"do":"abandon","station":"mixer"})")["ok"]);
  old.prove();
  EXPECT_EQ(state(old).at("phase"), "rejected");
  EXPECT_TRUE(state(old).at("acceptance").at("half_width_g_kg").is_null());
  ASSERT_TRUE(old.request(
      R"({"station":"mixer","do":"calibrate","probe":"cell_a","standard":"52.84 mS/cm"})")["ok"]);
  old.pass(std::chrono::minutes(45));
  EXPECT_EQ(state(old).at("phase"), "proven");
}

TEST(Instruments, AProofComparesTheCellWithTheSaltWeighedInAndARestartKeepsIt) {
  BenchEngine before;
  prove_with_salt(before);
  ASSERT_EQ(state(before).at("phase"), "proven");
  const auto points = state(before).at("probe_health").at("cell_a").at("points");
  ASSERT_EQ(points.size(), 1U);
  EXPECT_EQ(points[0].at("witness"), "dose");
  EXPECT_NEAR(points[0].at("deviation_percent"), 0.0, 0.5);
  ASSERT_EQ(before.on_disk("compared").size(), 1U);
  BenchEngine after = restarted(before, 3 * one_day);
  after.pass(10s);
  EXPECT_EQ(state(after).at("probe_health").at("cell_a").at("points"), points);
}

TEST(Instruments, SaltThatTheCellItselfMeasuredIsNoWitness) {
  BenchEngine bench;
  bench.pass(30s);
  bench.request(R"({"station":"mixer","do":"begin","lot":"H-2291","profile":"reef","salt":"1 g"})");
  bench.pass(std::chrono::minutes(45));
  ASSERT_EQ(state(bench).at("phase"), "proven");
  EXPECT_TRUE(state(bench).at("probe_health").at("cell_a").at("points").empty());
}

TEST(Instruments, ACalibrationTellsHowFarTheCellWasOffAndBeginsAfresh) {
  BenchEngine before;
  before.pass(30s);
  BenchEngine after = restarted(before, 200 * one_day);
  after.salinity_psu = 34.0;
  after.pass(30s);
  EXPECT_TRUE(state(after).at("probe_health").at("cell_a").at("due").get<bool>());
  ASSERT_TRUE(after.request(
      R"({"station":"mixer","do":"calibrate","probe":"cell_a","standard":"53.07 mS/cm"})")["ok"]);
  after.pass(2s);
  const auto health = state(after).at("probe_health").at("cell_a");
  EXPECT_FALSE(health.at("due").get<bool>());
  EXPECT_NEAR(health.at("days_since_calibration"), 0.0, 0.01);
  ASSERT_EQ(health.at("points").size(), 1U);
  EXPECT_EQ(health.at("points")[0].at("witness"), "standard");
  EXPECT_NEAR(health.at("points")[0].at("deviation_percent"), 100.0 * (34.0 / 35.0 - 1.0), 0.05);
  EXPECT_EQ(health.at("comparisons"), 0) << "that was the cell before its calibration";
}

TEST(Instruments, AClockThatWasNeverSetGivesNoDates) {
  BenchEngine bench({}, {BenchEngine::start().mono, WallTime(Duration(1h))});
  bench.pass(30s);
  EXPECT_TRUE(state(bench).at("probe_health").empty());
  for (const StoredState& stored : bench.stored())
    EXPECT_NE(stored.table, "probe");
}

TEST(Instruments, AProbeRecordThatCannotBeReadIsAnErrorAndNotAGuess) {
  const RestoredStates broken{{"probe", "mixer/cell_a", "mixer", R"({"known_since_ns":1})"}};
  const auto engine = Engine::create(bench_site(), broken, BenchEngine::start());
  ASSERT_FALSE(engine.ok());
  EXPECT_THAT(engine.error().message, HasSubstr("mixer/cell_a"));
}

TEST(Instruments, TheMeasuredFactorOfALotIsFrozenIntoTheBatch) {
  BenchEngine before;
  before.pass(30s);
  ASSERT_TRUE(before.request(
      R"({"station":"mixer","do":"begin","lot":"H-2291","profile":"reef","salt":"6 kg",)"
      R"("salt_factor":1.01,"salt_factor_uncertainty":0.002})")["ok"]);
  BenchEngine after = restarted(before, Duration(1min));
  after.pass(30s);
  const auto station = state(after);
  EXPECT_EQ(station.at("batch").at("salt_factor"), 1.01);
  EXPECT_NEAR(station.at("salinity").at("practical_salinity"), 1.01 * 34.836, 0.001);
  EXPECT_NEAR(station.at("salinity").at("budget_g_kg").at("salt_factor"), 0.002 * 35.0, 0.001);
}

TEST(Instruments, AFactorWithoutItsUncertaintyOrFarFromOneIsRefused) {
  BenchEngine bench;
  bench.pass(10s);
  for (const char* factor : {R"("salt_factor":1.01)", R"("salt_factor_uncertainty":0.002)",
                             R"("salt_factor":1.5,"salt_factor_uncertainty":0.002)",
                             R"("salt_factor":1.01,"salt_factor_uncertainty":0)"}) {
    const auto answer =
        bench.request(R"({"station":"mixer","do":"begin","lot":"H-2291","profile":"reef",)" +
                      std::string(factor) + "}");
    EXPECT_FALSE(answer.at("ok").get<bool>()) << factor;
    EXPECT_THAT(answer.at("message").get<std::string>(), HasSubstr("salt_factor"));
  }
}

}  // namespace
}  // namespace brinegate::daemon
