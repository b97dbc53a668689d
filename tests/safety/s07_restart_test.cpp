// SPDX-License-Identifier: Apache-2.0
// S7: after a restart a batch is what the record says, but the gate stays shut until fresh readings
// meet every check again; a change under way is ended, bounded, and told.
#include <gtest/gtest.h>

#include "tests/safety/bench_engine.h"

namespace brinegate::daemon {
namespace {

TEST(S7, ARestartedDaemonKeepsTheBatchAndShutsUntilEverythingIsMetAfresh) {
  BenchEngine before;
  before.prove();
  BenchEngine after(before.stored(), before.now());
  after.pass(1min);
  EXPECT_FALSE(after.ask_change("10 L")) << "the window of fresh readings is not covered yet";
  auto status = after.request(R"({"do":"status"})");
  EXPECT_EQ(status["stations"][0]["phase"], "proven");
  EXPECT_EQ(status["stations"][0]["gate"], "shut");
  after.pass(std::chrono::minutes(31));
  EXPECT_TRUE(after.ask_change("10 L"));
}

TEST(S7, AfterARestartNothingRunsByItself) {
  BenchEngine before;
  before.prove();
  ASSERT_TRUE(before.ask_change("50 L"));
  before.pass(20s);
  ASSERT_TRUE(before.pump_on());
  BenchEngine after(before.stored(), before.now());
  after.pass(std::chrono::minutes(40));
  for (const auto& drive : after.drives(drivers::OutputRole::Pump))
    EXPECT_FALSE(drive.effect.on_until.has_value());
}

TEST(S7, AChangeUnderWayIsEndedWithWhatTheLevelsSayAndThePersonIsTold) {
  BenchEngine before;
  before.prove();
  ASSERT_TRUE(before.ask_change("50 L"));
  before.pass(61s);
  const double drawn = 180.0 - before.shown[BenchEngine::height];
  ASSERT_GT(drawn, 5.0);
  BenchEngine after(before.stored(), before.now());
  after.shown = before.shown;
  after.pass(10s);
  const auto ended = after.on_disk("change-ended");
  ASSERT_EQ(ended.size(), 1U);
  const auto body = nlohmann::json::parse(ended[0].body);
  EXPECT_EQ(body["end"], "interrupted");
  EXPECT_NEAR(body["drawn_l"].get<double>(), drawn, 1.0);
  const auto status = after.request(R"({"do":"status"})");
  EXPECT_EQ(status["stations"][0]["alarms"][0]["id"], "change-interrupted");
}

// How long ago what is on the disk of the station was true.
Duration age_of_memory(const BenchEngine& bench) {
  for (const StoredState& state : bench.stored())
    if (state.table == "station")
      return bench.now().wall.time_since_epoch() -
             Duration(nlohmann::json::parse(state.body).at("saved_ns").get<std::int64_t>());
  return Duration::max();
}

TEST(S7, AKillLosesMinutesOfCirculationAtMostAndAMinuteWhileWaterIsDrawn) {
  BenchEngine bench;
  bench.pass(30s);
  bench.request(R"({"station":"mixer","do":"begin","lot":"H-2291","profile":"reef"})");
  bench.pass(std::chrono::minutes(14));
  EXPECT_LE(age_of_memory(bench), std::chrono::minutes(5) + 1s);
  bench.pass(std::chrono::minutes(31));
  ASSERT_TRUE(bench.ask_change("50 L"));
  bench.pass(160s);
  ASSERT_TRUE(bench.pump_on());
  EXPECT_LE(age_of_memory(bench), 61s);
}

TEST(S7, ARecordThatCannotBeReadIsAnErrorAndNotAGuess) {
  const RestoredStates broken{{"station", "mixer", "mixer", R"({"batch":{"id":"x"}})"}};
  const auto engine = Engine::create(bench_site(), broken, BenchEngine::start());
  ASSERT_FALSE(engine.ok());
  EXPECT_NE(engine.error().message.find("mixer"), std::string::npos);
}

// One bit of a digit is enough, and the daemon must say what is wrong rather than end without a
// word.
TEST(S7, ABatchWithAProfileThatNoneCanHaveIsRefusedByName) {
  BenchEngine before;
  before.prove();
  for (const auto& [member, damaged] : {std::pair<const char*, nlohmann::json>("risk", 8.01),
                                        {"risk", 0.0},
                                        {"tolerance_psu", -1.0},
                                        {"slowest_part_ns", 0},
                                        {"target_psu", -35.0},
                                        {"temperature_low_c", 99.0}}) {
    RestoredStates states = before.stored();
    for (StoredState& state : states) {
      auto body = nlohmann::json::parse(state.body);
      if (state.table != "station")
        continue;
      ASSERT_TRUE(body.at("batch").at("profile").contains(member)) << body;
      body["batch"]["profile"][member] = damaged;
      state.body = body.dump();
    }
    const auto engine = Engine::create(bench_site(), states, before.now());
    ASSERT_FALSE(engine.ok()) << member;
    EXPECT_NE(engine.error().message.find("profile"), std::string::npos) << engine.error().message;
  }
}

TEST(S7, CalibrationsOutliveARestart) {
  BenchEngine before;
  before.pass(30s);
  before.salinity_psu = 34.0;
  const auto answer = before.request(
      R"({"station":"mixer","do":"calibrate","probe":"cell_a","standard":"53.07 mS/cm"})");
  ASSERT_TRUE(answer["ok"]) << answer;
  BenchEngine after(before.stored(), before.now());
  after.salinity_psu = 34.0;
  after.pass(30s);
  const auto status = after.request(R"({"do":"status"})");
  EXPECT_NEAR(status["stations"][0]["salinity"]["practical_salinity"].get<double>(), 35.0, 0.01);
}

}  // namespace
}  // namespace brinegate::daemon
