// SPDX-License-Identifier: Apache-2.0
// Shelving rests what is announced of an alarm and nothing else: it blocks as before (S5), and it
// ends by itself.
#include <gtest/gtest.h>

#include "tests/safety/bench_engine.h"

namespace brinegate::daemon {
namespace {

constexpr const char* shelve_for_two_hours =
    R"({"id":"s1","station":"mixer","do":"shelve","alarm":"level-falling-while-shut","for":"2 h",)"
    R"("reason":"the hose is being mended"})";

// A siphon: 6 L in a minute, although the gate is shut.
BenchEngine leaking() {
  BenchEngine bench;
  bench.prove();
  for (int i = 0; i < 60; ++i) {
    bench.shown[BenchEngine::height] -= 0.1;
    bench.pass(1s);
  }
  return bench;
}

nlohmann::json verdicts(BenchEngine& bench) {
  const nlohmann::json station = bench.station();
  nlohmann::json verdicts;
  for (const auto& check : station.at("checks"))
    verdicts[check.at("id").get<std::string>()] = check.at("verdict");
  return verdicts;
}

TEST(AlarmShelf, LeavesEveryVerdictAndTheAlarmAsItWas) {
  BenchEngine bench = leaking();
  const nlohmann::json before = verdicts(bench);
  const nlohmann::json alarms = bench.station().at("alarms");
  ASSERT_EQ(alarms.size(), 1U);
  ASSERT_EQ(alarms.at(0).at("id"), "level-falling-while-shut");
  ASSERT_TRUE(bench.request(shelve_for_two_hours)["ok"]);
  bench.pass(1s);
  EXPECT_EQ(verdicts(bench), before);
  EXPECT_EQ(bench.station().at("alarms"), alarms);
  EXPECT_FALSE(bench.ask_change("5 L"));
}

TEST(AlarmShelf, IsShownOnRecordAndEndsByItself) {
  BenchEngine bench = leaking();
  ASSERT_TRUE(bench.request(shelve_for_two_hours, Origin::Token)["ok"]);
  const nlohmann::json shelved = bench.station().at("shelved");
  ASSERT_EQ(shelved.size(), 1U);
  EXPECT_EQ(shelved.at(0).at("id"), "level-falling-while-shut");
  EXPECT_EQ(shelved.at(0).at("reason"), "the hose is being mended");
  bench.pass(std::chrono::minutes(119));
  EXPECT_EQ(bench.station().at("shelved").size(), 1U);
  bench.pass(std::chrono::minutes(2));
  EXPECT_TRUE(bench.station().at("shelved").empty());
  ASSERT_EQ(bench.on_disk("alarm-shelved").size(), 1U);
  EXPECT_NE(bench.on_disk("alarm-shelved")[0].body.find("7200"), std::string::npos);
  ASSERT_EQ(bench.on_disk("alarm-unshelved").size(), 1U);
  EXPECT_NE(bench.on_disk("alarm-unshelved")[0].body.find(R"("by_itself":true)"),
            std::string::npos);
}

TEST(AlarmShelf, IsEmptyAfterARestart) {
  BenchEngine before = leaking();
  ASSERT_TRUE(before.request(shelve_for_two_hours)["ok"]);
  BenchEngine after(before.stored(), before.now());
  after.pass(1s);
  EXPECT_TRUE(after.station().at("shelved").empty());
  EXPECT_EQ(after.station().at("alarms").size(), 1U);
}

TEST(AlarmShelf, GivesAnAlarmBackWhenAsked) {
  BenchEngine bench = leaking();
  const char* unshelve =
      R"({"station":"mixer","do":"unshelve","alarm":"level-falling-while-shut"})";
  EXPECT_FALSE(bench.request(unshelve)["ok"]);
  ASSERT_TRUE(bench.request(shelve_for_two_hours)["ok"]);
  EXPECT_TRUE(bench.request(unshelve)["ok"]);
  EXPECT_TRUE(bench.station().at("shelved").empty());
}

TEST(AlarmShelf, IsNotForTheNetworkNorForLongerThanADay) {
  BenchEngine bench = leaking();
  EXPECT_FALSE(bench.request(shelve_for_two_hours, Origin::Network)["ok"]);
  for (const char* members :
       {R"("alarm":"level-falling-while-shut","for":"25 h")",
        R"("alarm":"level-falling-while-shut","for":"0 s")",
        R"("alarm":"level-falling-while-shut")", R"("alarm":"no-such-alarm","for":"1 h")"})
    EXPECT_FALSE(
        bench.request(std::string(R"({"station":"mixer","do":"shelve",)") + members + "}")["ok"])
        << members;
  EXPECT_TRUE(bench.station().at("shelved").empty());
}

TEST(AlarmShelf, ActsOnceForOneId) {
  BenchEngine bench = leaking();
  const auto first = bench.request(shelve_for_two_hours);
  bench.pass(1min);
  EXPECT_EQ(bench.request(shelve_for_two_hours), first);
  EXPECT_EQ(bench.on_disk("alarm-shelved").size(), 1U);
}

}  // namespace
}  // namespace brinegate::daemon
