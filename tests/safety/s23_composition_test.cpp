// SPDX-License-Identifier: Apache-2.0
// S23: conductivity proves salinity, not composition. A proof says what it rests on; a profile can
// ask for lots on record, for limits of their analyses and for tests by hand. S15 for lots, S16 for
// hand tests.
#include <functional>
#include <string>

#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/safety/bench_engine.h"

namespace brinegate::daemon {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

constexpr double target_psu = 34.836;

config::Site site_with(const std::function<void(Profile&)>& edit) {
  config::Site site = bench_site();
  edit(site.profiles[0]);
  return site;
}

// An analysis at the target; 1 meq/kg, 1 mg/kg: contents as rules/ have them.
std::string analysis(const std::string& lot, const std::string& values,
                     const std::string& more = "") {
  return fmt::format(
      R"({{"lot":"{}","salt":"Harbour blend"{},"assay":{{"salinity":"35 ppt","values":{{{}}}}}}})",
      lot, more, values);
}

nlohmann::json add_lot(BenchEngine& bench, const std::string& text) {
  const nlohmann::json request = {{"do", "lot add"}, {"text", text}, {"by", "Ada"}};
  return bench.request(request.dump());
}

const std::string usual = R"("alkalinity":"8.1 dKH","Ca":"421 mg/L","Cu":"< 2 ug/L")";

// From fresh water to settled water of this salinity.
void mix(BenchEngine& bench, const std::string& lots, double psu = target_psu) {
  bench.salinity_psu = 0.1;
  bench.pass(30s);
  const auto begun = bench.request(fmt::format(R"({{"station":"mixer","do":"begin",{}}})", lots));
  ASSERT_TRUE(begun.value("ok", false)) << begun;
  bench.salinity_psu = psu;
  bench.pass(45min);
}

std::string says(BenchEngine& bench) {
  return bench.station()["batch"]["proof"]["says"];
}

constexpr const char* one_lot = R"("lot":"H-2291")";

TEST(S23, AProofSaysThatItIsOfSalinityAndWhatTheCompositionRestsOn) {
  BenchEngine unknown;
  mix(unknown, one_lot);
  EXPECT_EQ(says(unknown), "salinity proven, composition unknown: no assay is on record");
  BenchEngine known;
  ASSERT_TRUE(add_lot(known, analysis("H-2291", usual))["ok"]);
  mix(known, one_lot);
  EXPECT_EQ(says(known), "salinity proven, composition by assay");
  EXPECT_THAT(known.station()["headline"].get<std::string>(),
              HasSubstr("salinity proven, composition by assay"));
  EXPECT_EQ(nlohmann::json::parse(known.on_disk("proven").at(0).body)["says"],
            "salinity proven, composition by assay");
}

TEST(S23, TheRecordOfABatchHasItsLotsWithTheirVersionsAndWhatTheyMakeExpect) {
  BenchEngine bench;
  add_lot(bench, analysis("H-2291", usual));
  mix(bench, one_lot);
  const auto begun = nlohmann::json::parse(bench.on_disk("batch-begun").at(0).body);
  EXPECT_EQ(begun["lots"][0]["lot"], "H-2291");
  EXPECT_EQ(begun["lots"][0]["version"], 1);
  EXPECT_EQ(begun["expected"]["Ca"], "421 mg/L");
  EXPECT_THAT(begun["expected"]["Cu"].get<std::string>(), HasSubstr("< 2"));
  EXPECT_EQ(bench.station()["batch"]["expected"]["alkalinity"], "8.1 dKH");
}

TEST(S23, ALotThatIsAskedForMustBeOnRecord) {
  BenchEngine bench({}, BenchEngine::start(), site_with([](Profile& p) { p.lot_required = true; }));
  mix(bench, one_lot);
  EXPECT_EQ(bench.station()["phase"], "mixing");
  EXPECT_EQ(bench.check("lot")["verdict"], "violated");
  EXPECT_THAT(bench.check("lot")["sentence"].get<std::string>(), HasSubstr("H-2291"));
  add_lot(bench, analysis("H-2291", usual));
  bench.pass(1min);
  EXPECT_EQ(bench.check("lot")["verdict"], "met");
  EXPECT_EQ(bench.station()["phase"], "proven");
}

TEST(S23, ARestOfWhichNoLotIsKnownIsNotOnRecord) {
  BenchEngine bench({}, BenchEngine::start(), site_with([](Profile& p) { p.lot_required = true; }));
  add_lot(bench, analysis("H-2291", usual));
  bench.prove();  // begins on salt water that nobody has told of
  EXPECT_EQ(bench.check("lot")["verdict"], "violated");
  EXPECT_THAT(bench.check("lot")["sentence"].get<std::string>(), HasSubstr("no lot is known"));
}

// The bench's clock stands at 2026-09-21T14:13Z.
TEST(S23, AnExpiredLotIsNotTakenAndOneThatExpiresShutsTheGateByTheBatchsAge) {
  const auto required = site_with([](Profile& p) { p.lot_required = true; });
  BenchEngine late({}, BenchEngine::start(), required);
  add_lot(late, analysis("H-2291", usual, R"(,"expires":"2026-09-20")"));
  mix(late, one_lot);
  EXPECT_EQ(late.check("lot")["verdict"], "violated");
  EXPECT_THAT(late.check("lot")["sentence"].get<std::string>(), HasSubstr("expired"));
  BenchEngine bench({}, BenchEngine::start(), required);
  add_lot(bench, analysis("H-2291", usual, R"(,"expires":"2026-09-21")"));
  mix(bench, one_lot);
  ASSERT_EQ(bench.station()["phase"], "proven");
  bench.pass(9h + 30min);
  EXPECT_EQ(bench.check("lot")["verdict"], "violated");
  EXPECT_FALSE(bench.ask_change("10 L"));
}

config::Site with_limit(Analyte analyte, double low, double high) {
  return site_with([=](Profile& p) { p.limits[analyte] = {low, high}; });
}

TEST(S23, WhatALotBringsMustBeWithinItsLimitsAndIsNamedWhereItIsNot) {
  BenchEngine bench({}, BenchEngine::start(), with_limit(Analyte::Copper, 0.0, 0.005));
  add_lot(bench, analysis("H-2291", R"("Cu":"12 ug/L")"));
  mix(bench, one_lot);
  EXPECT_EQ(bench.station()["phase"], "mixing");
  const auto check = bench.check("lot");
  EXPECT_EQ(check["verdict"], "violated");
  EXPECT_EQ(check["contents"][0]["analyte"], "Cu");
  EXPECT_THAT(check["sentence"].get<std::string>(), HasSubstr("Copper is 12"));
}

TEST(S23, WhatWasOnlyLookedForCountsAsItsDetectionLimit) {
  for (const auto& [written, verdict] :
       {std::pair("< 10 ug/L", "violated"), std::pair("< 2 ug/L", "met")}) {
    BenchEngine bench({}, BenchEngine::start(), with_limit(Analyte::Copper, 0.0, 0.005));
    add_lot(bench, analysis("H-2291", fmt::format(R"("Cu":"{}")", written)));
    mix(bench, one_lot);
    EXPECT_EQ(bench.check("lot")["verdict"], verdict) << written;
  }
}

TEST(S23, WhatIsLimitedMustBeInTheAssay) {
  BenchEngine bench({}, BenchEngine::start(), with_limit(Analyte::Copper, 0.0, 0.005));
  add_lot(bench, analysis("H-2291", R"("Ca":"421 mg/L")"));
  mix(bench, one_lot);
  EXPECT_EQ(bench.check("lot")["verdict"], "violated");
  EXPECT_THAT(bench.check("lot")["sentence"].get<std::string>(), HasSubstr("not in the assay"));
}

// 421 mg/L at the target are 411.4 mg/kg (density 1.0233 kg/L); 1 % saltier water has 1 % more.
TEST(S23, LimitsHoldAtTheMeasuredSalinity) {
  for (const auto& [psu, verdict] :
       {std::pair(target_psu, "met"), std::pair(1.01 * target_psu, "violated")}) {
    BenchEngine bench({}, BenchEngine::start(), with_limit(Analyte::Calcium, 0.0, 413.5));
    add_lot(bench, analysis("H-2291", usual));
    mix(bench, one_lot, psu);
    EXPECT_EQ(bench.check("lot")["verdict"], verdict) << psu;
  }
}

TEST(S23, TwoLotsCountByTheSaltThatEachBrought) {
  BenchEngine bench({}, BenchEngine::start(), with_limit(Analyte::Copper, 0.0, 0.005));
  add_lot(bench, analysis("H-2291", R"("Cu":"2 ug/L")"));
  add_lot(bench, analysis("H-2304", R"("Cu":"6 ug/L")"));
  mix(bench, R"("lots":[{"lot":"H-2291","salt":"5 kg"},{"lot":"H-2304","salt":"2.1 kg"}])");
  bench.pass(30min);
  const auto batch = bench.station()["batch"];
  EXPECT_EQ(batch["lot"], "H-2291 + H-2304");
  EXPECT_NEAR(batch["lots"][0]["share"].get<double>(), 5.0 / 7.1, 1e-3);
  EXPECT_EQ(bench.check("lot")["verdict"], "met") << "3.2 µg/L together";
  bench.request(R"({"station":"mixer","do":"note","salt":"40 kg","lot":"H-2304"})");
  EXPECT_EQ(bench.check("lot")["verdict"], "violated") << "5.6 µg/L: too much at every salinity";
}

TEST(S23, TheRestOfTheLastBatchCountsWithItsLots) {
  BenchEngine bench;
  add_lot(bench, analysis("H-2291", usual));
  add_lot(bench, analysis("H-2304", R"("Ca":"400 mg/L")"));
  mix(bench, one_lot);
  ASSERT_EQ(bench.station()["phase"], "proven");
  bench.request(R"({"station":"mixer","do":"abandon"})");
  bench.shown[BenchEngine::height] = 40.0;
  bench.pass(30s);
  bench.request(R"({"station":"mixer","do":"begin","lot":"H-2304","salt":"5 kg"})");
  const auto batch = bench.station()["batch"];
  EXPECT_EQ(batch["lot"], "H-2304 + H-2291");
  EXPECT_EQ(batch["expected"].size(), 1U) << "only what both name: " << batch["expected"];
}

const auto alkalinity_by_hand = [](Profile& p) {
  p.hand_tests[Analyte::Alkalinity] = {2.6, 3.0};  // 7.5 to 8.6 dKH
};

nlohmann::json hand_test(BenchEngine& bench, const std::string& value) {
  return bench.request(fmt::format(
      R"({{"station":"mixer","do":"test","analyte":"alkalinity","value":"{}"}})", value));
}

TEST(S23, ABatchWaitsForTheHandTestThatIsAskedFor) {
  BenchEngine bench({}, BenchEngine::start(), site_with(alkalinity_by_hand));
  add_lot(bench, analysis("H-2291", usual));
  mix(bench, one_lot);
  EXPECT_EQ(bench.station()["phase"], "mixing");
  EXPECT_EQ(bench.check("hand-tests")["verdict"], "waiting");
  EXPECT_THAT(bench.station()["headline"].get<std::string>(), HasSubstr("by assay 8.1 dKH"));
  EXPECT_TRUE(hand_test(bench, "8.2 dKH")["ok"]);
  bench.pass(1min);
  EXPECT_EQ(bench.station()["phase"], "proven");
  EXPECT_EQ(says(bench), "salinity proven, composition by assay and hand test");
  EXPECT_EQ(nlohmann::json::parse(bench.on_disk("hand-test").at(0).body)["written"], "8.2 dKH");
}

TEST(S23, AHandTestOutOfItsRangeIsNotProvenAndSaysWhatWasExpected) {
  BenchEngine bench({}, BenchEngine::start(), site_with(alkalinity_by_hand));
  add_lot(bench, analysis("H-2291", usual));
  mix(bench, one_lot);
  hand_test(bench, "6.1 dKH");
  bench.pass(1min);
  EXPECT_EQ(bench.check("hand-tests")["verdict"], "violated");
  EXPECT_THAT(bench.check("hand-tests")["sentence"].get<std::string>(),
              HasSubstr("Alkalinity is 6.1 dKH by hand (by assay 8.1 dKH), needed"));
  EXPECT_EQ(bench.station()["phase"], "mixing");
}

TEST(S23, WaterIsNotTestedByHandWhileItDissolvesNorFromTheNetwork) {
  BenchEngine bench({}, BenchEngine::start(), site_with(alkalinity_by_hand));
  bench.salinity_psu = 0.1;
  bench.pass(30s);
  bench.request(R"({"station":"mixer","do":"begin","lot":"H-2291","salt":"7 kg"})");
  EXPECT_FALSE(hand_test(bench, "8.2 dKH")["ok"]);
  bench.salinity_psu = target_psu;
  bench.pass(45min);
  EXPECT_FALSE(bench.request(R"({"id":"1","do":"test","analyte":"alkalinity","value":"8.2 dKH"})",
                             Origin::Network)["ok"]);
  EXPECT_EQ(bench.check("hand-tests")["verdict"], "waiting");
}

TEST(S16, WhatChangesTheWaterTakesTheHandTestAway) {
  BenchEngine added({}, BenchEngine::start(), site_with(alkalinity_by_hand));
  mix(added, one_lot);
  hand_test(added, "8.2 dKH");
  EXPECT_EQ(added.check("hand-tests")["verdict"], "met");
  added.request(R"({"station":"mixer","do":"note","text":"looked at it"})");
  EXPECT_EQ(added.check("hand-tests")["verdict"], "met");
  added.request(R"({"station":"mixer","do":"note","water":"2 L"})");
  EXPECT_EQ(added.check("hand-tests")["verdict"], "waiting");

  BenchEngine moved({}, BenchEngine::start(), site_with(alkalinity_by_hand));
  mix(moved, one_lot);
  hand_test(moved, "8.2 dKH");
  moved.pass(1min);
  ASSERT_EQ(moved.station()["phase"], "proven");
  moved.salinity_psu -= 0.5;
  moved.pass(1min);
  EXPECT_EQ(moved.check("hand-tests")["verdict"], "waiting");
}

TEST(S15, ANewVersionOfALotInTheBatchVoidsTheProofAndTheBatchKeepsTheOld) {
  BenchEngine bench;
  add_lot(bench, analysis("H-2291", usual));
  mix(bench, one_lot);
  add_lot(bench, analysis("H-2304", usual));
  bench.pass(5s);
  EXPECT_EQ(bench.station()["phase"], "proven") << "another lot is no matter";
  add_lot(bench, analysis("H-2291", R"("Ca":"380 mg/L")"));
  bench.pass(2s);
  EXPECT_EQ(bench.station()["phase"], "mixing");
  EXPECT_EQ(nlohmann::json::parse(bench.on_disk("proof-lost").at(0).body)["reason"], "lot edited");
  bench.pass(1min);
  EXPECT_EQ(bench.station()["phase"], "proven");
  EXPECT_EQ(bench.station()["batch"]["lots"][0]["version"], 1);
  EXPECT_EQ(bench.station()["batch"]["expected"]["Ca"], "421 mg/L");
  BenchEngine after(bench.stored(), bench.now());
  after.pass(5s);
  EXPECT_EQ(after.station()["phase"], "proven") << "told once";
}

TEST(S15, ALotEditedWhileTheDaemonWasDownVoidsTheProofToo) {
  BenchEngine bench;
  add_lot(bench, analysis("H-2291", usual));
  mix(bench, one_lot);
  BenchEngine beside;
  add_lot(beside, analysis("H-2291", usual));
  add_lot(beside, analysis("H-2291", R"("Ca":"380 mg/L")"));
  RestoredStates states = bench.stored();
  for (const StoredState& state : beside.stored())
    if (state.table == "lot" && state.key == "H-2291/2")
      states.push_back(state);
  BenchEngine after(states, bench.now());
  after.pass(5s);
  ASSERT_EQ(after.on_disk("proof-lost").size(), 1U);
  EXPECT_EQ(nlohmann::json::parse(after.on_disk("proof-lost").at(0).body)["reason"], "lot edited");
}

}  // namespace
}  // namespace brinegate::daemon

namespace brinegate {
namespace {

// S9: how much of its time a lot has left was settled at the begin, by the age of the batch.
TEST(S09, AJumpOfTheWallClockNeitherExpiresALotNorRevivesIt) {
  for (const Duration jump : {Duration(24h * 400), Duration(-24h * 400)}) {
    BenchStation bench;
    BeginCommand begin;
    begin.batch = "mixer-1";
    begin.profile = bench_profile();
    begin.profile.lot_required = true;
    begin.salts = {salt_of("H-2291")};
    begin.salts[0].lot.parts[0].version = 1;
    begin.salts[0].lot.parts[0].expires_in = 2h;
    begin.salts[0].lot.composition.emplace();
    bench.salinity_psu = 0.1;
    bench.pass(30s);
    bench.ask(begin);
    bench.salinity_psu = 34.836;
    bench.pass(45min);
    ASSERT_EQ(bench.phase(), BatchPhase::Proven);
    bench.jump_wall_time(jump);
    bench.pass(1h);
    EXPECT_EQ(bench.verdict(CheckId::LotRight), Verdict::Met);
    bench.pass(20min);
    EXPECT_EQ(bench.verdict(CheckId::LotRight), Verdict::Violated);
  }
}

}  // namespace
}  // namespace brinegate
