// SPDX-License-Identifier: Apache-2.0
// S8: a waiver is for one check, by a named person, with a reason and an end, only where the
// profile allows it; and nothing else passes the gate.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "rules/waiver.h"
#include "tests/safety/bench_engine.h"
#include "tests/safety/bench_station.h"

namespace brinegate {
namespace {

using ::testing::HasSubstr;

// Proven but for the temperature, which the profile allows to be waived.
class S8 : public testing::Test {
 protected:
  S8() {
    bench.shown[BenchStation::bath] = 22.0;
    bench.pass(30s);
    begin({CheckId::TemperatureRight, CheckId::AsDosed});
    bench.pass(45min);
  }
  void begin(std::set<CheckId> waivable) {
    BeginCommand command;
    command.batch = "mixer-1";
    command.salts = {salt_of("H-2291")};
    command.profile = bench_profile();
    command.profile.waivable = std::move(waivable);
    bench.ask(command);
  }
  CommandAnswer waive(CheckId check = CheckId::TemperatureRight, Duration length = 1h) {
    return bench.ask(WaiveCommand{check, "Ada", "the heater is on its way", length});
  }

  BenchStation bench;
};

TEST_F(S8, LetsOneCheckPassAndTheBatchBeProvenWhichSaysSo) {
  ASSERT_EQ(bench.phase(), BatchPhase::Mixing);
  ASSERT_TRUE(waive().ok());
  bench.pass(30s);
  ASSERT_EQ(bench.phase(), BatchPhase::Proven);
  EXPECT_FALSE(lets_through(bench.verdict(CheckId::TemperatureRight)));
  EXPECT_EQ(bench.station().batch().proof->waived, std::set{CheckId::TemperatureRight});
  ASSERT_TRUE(bench.ask_change(10.0).ok());
  bench.pass(10s);
  EXPECT_TRUE(bench.open());
}

TEST_F(S8, LetsNoOtherCheckPass) {
  ASSERT_TRUE(waive().ok());
  bench.pass(30s);
  ASSERT_TRUE(bench.ask_change(10.0).ok());
  bench.pass(10s);
  ASSERT_TRUE(bench.open());
  bench.shown[BenchStation::leak] = 1.0;
  bench.pass(2s);
  EXPECT_FALSE(bench.open());
  EXPECT_EQ(bench.station().gate().first_out(), CheckId::NoLeak);
}

TEST_F(S8, ItsEndShutsAnOpenGateInTheSameStepAndIsTheFirstOut) {
  ASSERT_TRUE(waive(CheckId::TemperatureRight, 2min).ok());
  bench.pass(30s);
  ASSERT_TRUE(bench.ask_change(60.0).ok());
  while (bench.events<WaiverEnded>().empty()) {
    bench.pass(1s);
    ASSERT_LT(bench.events<GateShut>().size() + bench.events<WaiverEnded>().size(), 3u);
    if (bench.events<WaiverEnded>().empty() && bench.events<GateOpened>().size() == 1) {
      ASSERT_TRUE(bench.open());
    }
  }
  EXPECT_FALSE(bench.open());
  EXPECT_FALSE(bench.pump_on());
  EXPECT_EQ(bench.events<WaiverEnded>().front().end, WaiverEnd::Expired);
  EXPECT_EQ(bench.station().gate().first_out(), CheckId::TemperatureRight);
}

TEST_F(S8, EndsByTheMonotonicClockWhateverTheWallClockDoes) {
  ASSERT_TRUE(waive(CheckId::TemperatureRight, 10min).ok());
  bench.jump_wall_time(-48h);
  bench.pass(9min);
  EXPECT_EQ(bench.station().batch().waivers.size(), 1u);
  bench.pass(90s);
  EXPECT_TRUE(bench.station().batch().waivers.empty());
}

TEST_F(S8, IsNeverLongerThanADay) {
  ASSERT_TRUE(waive(CheckId::TemperatureRight, 240h).ok());
  EXPECT_LE(bench.station().batch().waivers.front().until - bench.now().mono, longest_waiver);
}

TEST_F(S8, CanBeTakenBackByItsCheckAtOnce) {
  ASSERT_TRUE(waive().ok());
  bench.pass(30s);
  ASSERT_TRUE(bench.ask_change(10.0).ok());
  bench.pass(10s);
  ASSERT_TRUE(bench.open());
  EXPECT_TRUE(bench.ask(UnwaiveCommand{CheckId::TemperatureRight}).ok());
  EXPECT_FALSE(bench.open());
  EXPECT_EQ(bench.ask(UnwaiveCommand{CheckId::TemperatureRight}).code, AnswerCode::NothingWaived);
}

TEST_F(S8, EndsWithARestartWhichIsSaid) {
  ASSERT_TRUE(waive().ok());
  bench.pass(30s);
  bench.restart(bench.station().memory(bench.now()));
  bench.forget_events();
  bench.pass(1min);
  ASSERT_EQ(bench.events<WaiverEnded>().size(), 1u);
  EXPECT_EQ(bench.events<WaiverEnded>().front().end, WaiverEnd::Restarted);
  EXPECT_FALSE(bench.ask_change(10.0).ok());
}

TEST_F(S8, EndsWithItsBatch) {
  ASSERT_TRUE(waive().ok());
  ASSERT_TRUE(bench.ask(AbandonCommand{}).ok());
  EXPECT_EQ(bench.events<BatchEnded>().back().batch.waivers.size(), 1u);
  begin({CheckId::TemperatureRight});
  EXPECT_TRUE(bench.station().batch().waivers.empty());
  bench.pass(45min);
  EXPECT_EQ(bench.phase(), BatchPhase::Mixing);
}

TEST_F(S8, OnlyWhatTheBatchesProfileAllowsIsWaived) {
  EXPECT_EQ(waive(CheckId::Circulated).code, AnswerCode::NotWaivable);
  EXPECT_TRUE(waive(CheckId::AsDosed).ok());
}

TEST(S8Of, AnEditOfTheProfileAllowsNothingForABatchThatHasBegun) {
  BenchStation bench;
  bench.prove();
  EXPECT_EQ(bench.ask(WaiveCommand{CheckId::NotTooOld, "Ada", "why not", 1h}).code,
            AnswerCode::NotWaivable);
}

// The list stands here again, so that nothing is added to it by the way.
TEST(S8Of, MostChecksAreWaivedByNobodyWhateverAProfileSays) {
  const std::set<CheckId> waivable{
      CheckId::Uniform,   CheckId::AsDosed,   CheckId::Circulated,      CheckId::LotRight,
      CheckId::HandTests, CheckId::NotTooOld, CheckId::TemperatureRight};
  BenchStation bench;
  bench.pass(30s);
  BeginCommand command;
  command.batch = "mixer-1";
  command.salts = {salt_of("H-2291")};
  command.profile = bench_profile();
  for (const CheckRow& row : check_catalogue())
    command.profile.waivable.insert(row.id);
  bench.ask(command);
  for (const CheckRow& row : check_catalogue()) {
    const AnswerCode code = bench.ask(WaiveCommand{row.id, "Ada", "in a hurry", 1h}).code;
    EXPECT_EQ(code, waivable.contains(row.id) ? AnswerCode::Done : AnswerCode::NeverWaivable)
        << row.name;
  }
}

TEST(S8Of, AWaivedDoseIsNoWitnessAndTeachesNoYield) {
  BenchStation bench;
  bench.shown[BenchStation::cell] = 0.2;
  bench.pass(30s);
  BeginCommand command;
  command.batch = "mixer-1";
  command.salts = {salt_of("H-2291", {}, Grams(6000.0))};  // about 6.8 kg would be right
  command.profile = bench_profile();
  command.profile.waivable = {CheckId::AsDosed};
  bench.ask(command);
  bench.shown.erase(BenchStation::cell);
  bench.pass(90min);
  ASSERT_EQ(bench.verdict(CheckId::AsDosed), Verdict::Violated);
  ASSERT_TRUE(bench.ask(WaiveCommand{CheckId::AsDosed, "Ada", "the scales are broken", 1h}).ok());
  bench.pass(1min);
  ASSERT_EQ(bench.phase(), BatchPhase::Proven);
  EXPECT_TRUE(bench.events<YieldObserved>().empty());
  ASSERT_TRUE(bench.station().dose());
  EXPECT_FALSE(bench.station().dose()->independent);
}

}  // namespace

namespace daemon {
namespace {

config::Site site_that_allows_it() {
  config::Site site = bench_site();
  site.profiles[0].waivable = {CheckId::TemperatureRight};
  return site;
}

constexpr const char* waive = R"({"station":"mixer","do":"waive","check":"temperature","by":"Ada",)"
                              R"("reason":"the heater is on its way","for":"1 h"})";

TEST(S8Of, WhoWaivedWhatAndWhyStandsInTheRecordWithTheProofAndWithThePermit) {
  BenchEngine bench({}, BenchEngine::start(), site_that_allows_it());
  bench.shown[BenchEngine::bath] = 22.0;
  bench.pass(std::chrono::seconds(30));
  bench.request(R"({"station":"mixer","do":"begin","lot":"H-2291","profile":"reef"})");
  bench.pass(std::chrono::minutes(45));
  EXPECT_TRUE(bench.request(waive).value("ok", false));
  EXPECT_THAT(bench.check("temperature")["waived"]["sentence"].get<std::string>(),
              ::testing::StartsWith("Waived by Ada for another 60 min"));
  bench.pass(std::chrono::seconds(30));
  ASSERT_TRUE(bench.ask_change("10 L"));
  bench.pass(std::chrono::seconds(15));
  ASSERT_TRUE(bench.pump_on());

  ASSERT_EQ(bench.on_disk("waived").size(), 1u);
  const auto granted = nlohmann::json::parse(bench.on_disk("waived")[0].body);
  EXPECT_EQ(granted["check"], "temperature");
  EXPECT_EQ(granted["by"], "Ada");
  EXPECT_EQ(granted["reason"], "the heater is on its way");
  EXPECT_EQ(granted["length_s"], 3600.0);
  const auto proven = nlohmann::json::parse(bench.on_disk("proven").at(0).body);
  EXPECT_EQ(proven["proof"]["waived"], nlohmann::json{"temperature"});
  EXPECT_THAT(proven["says"].get<std::string>(), ::testing::EndsWith("with temperature waived"));
  const auto permit = nlohmann::json::parse(bench.on_disk("permit").at(0).body);
  std::string by;
  for (const auto& check : permit["checks"])
    if (check["waived"].is_object())
      by += check["id"].get<std::string>() + " by " + check["waived"]["by"].get<std::string>();
  EXPECT_EQ(by, "temperature by Ada");
  EXPECT_TRUE(bench.request(R"({"station":"mixer","do":"unwaive","check":"temperature"})")
                  .value("ok", false));
  bench.pass(std::chrono::seconds(1));
  EXPECT_EQ(nlohmann::json::parse(bench.on_disk("waiver-ended").at(0).body)["end"], "withdrawn");
}

TEST(S8Of, AWaiverIsForgottenWithTheProcessAndTheRecordSaysSo) {
  BenchEngine before({}, BenchEngine::start(), site_that_allows_it());
  before.prove();
  ASSERT_TRUE(before.request(waive).value("ok", false));
  before.pass(std::chrono::seconds(1));
  BenchEngine after(before.stored(), before.now(), site_that_allows_it());
  after.pass(std::chrono::seconds(2));
  ASSERT_EQ(after.on_disk("waiver-ended").size(), 1u);
  EXPECT_TRUE(after.check("temperature")["waived"].is_null());
}

TEST(S8Of, NobodyOnTheNetworkWaives) {
  BenchEngine bench({}, BenchEngine::start(), site_that_allows_it());
  bench.prove();
  for (const Origin origin : {Origin::Network, Origin::Token}) {
    EXPECT_FALSE(bench.request(waive, origin).value("ok", true));
    EXPECT_FALSE(
        bench.request(R"({"do":"unwaive","check":"temperature"})", origin).value("ok", true));
  }
  EXPECT_TRUE(bench.on_disk("waived").empty());
}

TEST(S8Of, AWaiverWithoutItsCheckNameReasonOrEndIsRefusedAndSaysWhatIsMissing) {
  BenchEngine bench({}, BenchEngine::start(), site_that_allows_it());
  bench.prove();
  const auto refused = [&bench](const std::string& members) {
    const auto reply = bench.request(R"({"station":"mixer","do":"waive",)" + members + "}");
    EXPECT_FALSE(reply.value("ok", true)) << members;
    return reply.dump();
  };
  const std::string by = R"("by":"Ada",)", why = R"("reason":"r",)", end = R"("for":"1 h")";
  const std::string what = R"("check":"temperature",)";
  EXPECT_THAT(refused(by + why + end), ::testing::HasSubstr("'check' is missing"));
  EXPECT_THAT(refused(what + why + end), ::testing::HasSubstr("'by' is missing"));
  EXPECT_THAT(refused(what + by + end), ::testing::HasSubstr("'reason' is missing"));
  EXPECT_THAT(refused(what + by + R"("reason":"r")"), ::testing::HasSubstr("'for' is missing"));
  EXPECT_THAT(refused(what + by + why + R"("for":"25 h")"), ::testing::HasSubstr("24 h"));
  EXPECT_THAT(refused(what + by + why + R"("for":"1 s")"), ::testing::HasSubstr("60 s to 24 h"));
  EXPECT_THAT(refused(R"("check":"gate",)" + by + why + end), ::testing::HasSubstr("temperature"));
  EXPECT_THAT(refused(R"("check":"no-leak",)" + by + why + end),
              ::testing::HasSubstr("nobody can waive"));
  EXPECT_THAT(refused(what + R"("by":")" + std::string(81, 'A') + "\"," + why + end),
              ::testing::HasSubstr("'by'"));
}

}  // namespace
}  // namespace daemon
}  // namespace brinegate
