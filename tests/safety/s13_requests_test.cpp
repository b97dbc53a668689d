// SPDX-License-Identifier: Apache-2.0
// S13: no request from the network can open the gate against a check, raise a limit, or do anything
// twice; malformed ones get a clear error and change nothing.
#include <algorithm>
#include <cstddef>
#include <string>

#include <gtest/gtest.h>

#include "tests/safety/bench_engine.h"

namespace brinegate::daemon {
namespace {

constexpr const char* change_request = R"({"id":"a1","do":"change","volume":"10 L"})";

TEST(S13, ARetainedRequestIsNeverHonoured) {
  BenchEngine bench;
  bench.prove();
  const auto answer = bench.request(change_request, Origin::Network, true);
  EXPECT_FALSE(answer["ok"]);
  bench.pass(10s);
  EXPECT_FALSE(bench.pump_on());
}

TEST(S13, RepeatingAnIdRepeatsTheAnswerAndNotTheAct) {
  BenchEngine bench;
  bench.prove();
  const auto first = bench.request(change_request, Origin::Network);
  ASSERT_TRUE(first["ok"]);
  bench.pass(3min);
  ASSERT_FALSE(bench.pump_on());
  const double drawn = 180.0 - bench.shown[BenchEngine::height];
  const auto again = bench.request(change_request, Origin::Network);
  EXPECT_EQ(again, first);
  bench.pass(3min);
  EXPECT_NEAR(180.0 - bench.shown[BenchEngine::height], drawn, 1e-9);
}

TEST(S13, AnIdIsRememberedAcrossARestart) {
  BenchEngine before;
  before.prove();
  ASSERT_TRUE(before.request(change_request, Origin::Network)["ok"]);
  before.pass(3min);
  BenchEngine after(before.stored(), before.now());
  after.shown = before.shown;
  after.pass(std::chrono::minutes(12));
  const auto answer = after.request(change_request, Origin::Network);
  EXPECT_TRUE(answer["ok"]) << "the old answer";
  after.pass(1min);
  EXPECT_FALSE(after.pump_on());
}

TEST(S13, AFloodFromTheNetworkIsNotAllPutOnRecordAndKeepsNobodyFromStopping) {
  BenchEngine bench;
  bench.prove();
  ASSERT_TRUE(bench.ask_change("50 L"));
  bench.pass(5s);
  const MonoTime began = bench.now().mono;
  for (int i = 0; i < 300; ++i)
    bench.request(note_with_id(i), Origin::Network);
  EXPECT_LT(bench.now().mono - began, 100s);
  EXPECT_GE(bench.on_disk("noted").size(), 20U);
  EXPECT_LE(bench.on_disk("noted").size(), 30U);
  EXPECT_FALSE(bench.request(note_with_id(300), Origin::Network)["ok"]);
  EXPECT_TRUE(bench.request(note_with_id(301), Origin::Local)["ok"]) << "on the machine itself";
  ASSERT_TRUE(bench.pump_on());
  EXPECT_TRUE(bench.request(R"({"id":"s","do":"stop"})", Origin::Network)["ok"]);
  EXPECT_FALSE(bench.pump_on());
}

std::size_t answers_stored(const BenchEngine& bench) {
  const RestoredStates stored = bench.stored();
  return static_cast<std::size_t>(
      std::count_if(stored.begin(), stored.end(),
                    [](const StoredState& state) { return state.table == "request"; }));
}

// "n10" sorts before "n9": what is oldest goes by when it was asked.
TEST(S13, TheLatestIdsAreRememberedOnDiskAndAcrossARestartAndNoMore) {
  BenchEngine before;
  before.prove();
  for (int number = 0; number < 300; ++number)
    ASSERT_TRUE(before.request(note_with_id(number))["ok"]);
  EXPECT_EQ(answers_stored(before), 256U);

  BenchEngine after(before.stored(), before.now());
  after.pass(1s);
  for (const int number : {44, 99, 100, 299})
    ASSERT_TRUE(after.request(note_with_id(number))["ok"]);
  EXPECT_TRUE(after.on_disk("noted").empty()) << "the old answers";
  ASSERT_TRUE(after.request(note_with_id(300))["ok"]);
  ASSERT_TRUE(after.request(note_with_id(44))["ok"]);
  EXPECT_EQ(after.on_disk("noted").size(), 2U) << "the oldest was forgotten for the newest";
}

TEST(S13, AnAnswerThatWasStoredWithoutItsNumberIsTheOldest) {
  const std::string reply = R"({"id":"old","ok":true,"message":"said long ago"})";
  BenchEngine bench({{"request", "mixer/old", "mixer", reply}});
  bench.pass(1s);
  const std::string again = R"({"id":"old","station":"mixer","do":"note","text":"n"})";
  EXPECT_EQ(bench.request(again), nlohmann::json::parse(reply));
}

TEST(S13, AnAnswerThatCannotBeReadIsAnErrorAndNotForgotten) {
  const auto engine =
      Engine::create(bench_site(), {{"request", "mixer/a1", "mixer", "x"}}, BenchEngine::start());
  ASSERT_FALSE(engine.ok());
  EXPECT_NE(engine.error().message.find("mixer/a1"), std::string::npos);
}

TEST(S13, WhatNamesAProfileOrSilencesAnAlarmCannotComeFromTheNetwork) {
  BenchEngine bench;
  bench.pass(30s);
  for (const char* payload :
       {R"({"id":"1","do":"begin","lot":"H-2291","profile":"reef"})",
        R"({"id":"2","do":"abandon"})",
        R"({"id":"3","do":"acknowledge","alarm":"change-interrupted"})",
        R"({"id":"4","do":"calibrate","probe":"cell_a","standard":"53 mS/cm"})"}) {
    const auto answer = bench.request(payload, Origin::Network);
    EXPECT_FALSE(answer["ok"]) << payload;
    EXPECT_NE(answer["message"].get<std::string>().find("machine itself"), std::string::npos);
  }
}

TEST(S13, AHolderOfTheTokenMovesNoProbeAndMakesNoWrongDoseLookRight) {
  BenchEngine bench;
  bench.pass(30s);
  for (const char* payload :
       {R"({"id":"1","station":"mixer","do":"calibrate","probe":"cell_a","standard":"53 mS/cm"})",
        R"({"id":"2","station":"mixer","do":"verify","probe":"cell_a","shows":"53 mS/cm"})",
        R"({"id":"3","station":"mixer","do":"note","salt_total":"7 kg"})",
        R"({"id":"4","station":"mixer","do":"begin","lot":"H-2291","dry_fraction":0.9})",
        R"({"id":"5","station":"mixer","do":"begin","lot":"H-2291","salt_factor":1.05,)"
        R"("salt_factor_uncertainty":0.01})"}) {
    const auto answer = bench.request(payload, Origin::Token);
    EXPECT_FALSE(answer["ok"]) << payload;
    EXPECT_NE(answer["message"].get<std::string>().find("machine itself"), std::string::npos);
  }
  EXPECT_FALSE(bench.request(R"({"station":"mixer","do":"abandon"})", Origin::Token)["ok"]);
  const char* begin = R"({"id":"6","station":"mixer","do":"begin","lot":"H-2291"})";
  EXPECT_TRUE(bench.request(begin, Origin::Token)["ok"]);
  const char* change = R"({"id":"7","station":"mixer","do":"change","volume":"4 L"})";
  EXPECT_FALSE(bench.request(change, Origin::Token)["ok"]);
  EXPECT_TRUE(bench.request(R"({"id":"8","station":"mixer","do":"abandon"})", Origin::Token)["ok"]);
}

constexpr const char* analysis_of_a_lot =
    R"({"id":"%","do":"lot add","name":"H-2291","salinity":"35 ppt",)"
    R"("text":"Ca 421 mg/L\nK 399 mg/L"})";

std::string with_id(std::string request, const std::string& id) {
  return request.replace(request.find('%'), 1, id);
}

TEST(S13, AHolderOfTheTokenEntersAnalysesButNoDryFraction) {
  BenchEngine bench;
  bench.pass(30s);
  EXPECT_FALSE(bench.request(with_id(analysis_of_a_lot, "1"), Origin::Network)["ok"]);
  EXPECT_TRUE(bench.request(with_id(analysis_of_a_lot, "2"), Origin::Token)["ok"]);
  std::string stated = with_id(analysis_of_a_lot, "3");
  stated.insert(stated.size() - 1, R"(,"dry_fraction":0.9)");
  const auto refused = bench.request(stated, Origin::Token);
  EXPECT_FALSE(refused["ok"]);
  EXPECT_NE(refused["message"].get<std::string>().find("machine itself"), std::string::npos);
  EXPECT_TRUE(bench.request(stated.replace(stated.find('3'), 1, "4"), Origin::Local)["ok"]);
  const auto left_out = bench.request(with_id(analysis_of_a_lot, "5"), Origin::Token);
  EXPECT_FALSE(left_out["ok"]) << "what is stated cannot be taken back either";
}

TEST(S13, WhoOnlyReadsGetsTheStateAndNothingElse) {
  BenchEngine bench;
  bench.prove();
  EXPECT_TRUE(bench.request(R"({"do":"status"})", Origin::Reader)["ok"]);
  for (const char* wanted :
       {R"({"id":"r","station":"mixer","do":"change","volume":"10 L"})",
        R"({"id":"r","station":"mixer","do":"note","text":"n"})",
        R"({"id":"r","station":"mixer","do":"stop"})", R"({"id":"r","do":"lot list"})",
        R"({"id":"r","do":"lot unlearn","lot":"H-2291"})"})
    EXPECT_FALSE(bench.request(wanted, Origin::Reader)["ok"]) << wanted;
  bench.pass(1min);
  EXPECT_FALSE(bench.pump_on());
}

TEST(S13, WhatALibraryIsAskedOverTheNetworkHoldsUpNoTurn) {
  BenchEngine bench;
  bench.pass(1s);
  const std::string question = R"({"id":"q","do":"lot list"})";
  EXPECT_TRUE(bench.request(question, Origin::Local)["ok"]);
  for (const Origin origin : {Origin::Network, Origin::Token})
    EXPECT_FALSE(bench.request(question, origin)["ok"]);
}

TEST(S13, MalformedRequestsGetAClearErrorAndChangeNothing) {
  BenchEngine bench;
  bench.prove();
  const std::vector<std::string> hostile{
      "",
      "null",
      "[]",
      "{",
      "\"do\"",
      "{\"do\":5}",
      R"({"id":"x","do":"open"})",
      R"({"id":"x","do":"change"})",
      R"({"id":"x","do":"change","volume":40})",
      R"({"id":"x","do":"change","volume":"40"})",
      R"({"id":"x","do":"change","volume":"-4 L"})",
      R"({"id":"x","do":"change","volume":"10 L","force":true})",
      R"({"do":"change","volume":"10 L"})",
      std::string(20000, '['),
      "\xff\xfe\x00garbage",
      R"({"id":")" + std::string(200, 'i') + R"(","do":"change","volume":"10 L"})",
      R"({"id":"x","do":"note","text":")" + std::string(1001, 't') + "\"}"};
  for (const std::string& payload : hostile) {
    const auto answer = bench.request(payload, Origin::Network);
    ASSERT_TRUE(answer.is_object()) << payload.substr(0, 60);
    EXPECT_FALSE(answer["ok"]) << payload.substr(0, 60);
    EXPECT_GT(answer["message"].get<std::string>().size(), 15U);
  }
  bench.pass(1min);
  EXPECT_FALSE(bench.pump_on());
}

}  // namespace
}  // namespace brinegate::daemon
