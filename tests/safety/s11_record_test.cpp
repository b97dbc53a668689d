// SPDX-License-Identifier: Apache-2.0
// S11: every open names permit, batch, lot and risk and is on disk before; every shut names its
// first-out and is on disk right after; no record, no permit.
#include <algorithm>
#include <cstddef>
#include <string>

#include <gtest/gtest.h>

#include "tests/safety/bench_engine.h"

namespace brinegate::daemon {
namespace {

TEST(S11, ThePermitIsOnDiskBeforeThePumpIsDriven) {
  BenchEngine bench;
  bench.prove();
  bench.disk_answers = false;  // the disk takes its time
  EXPECT_FALSE(bench.ask_change("20 L")) << "nobody knows yet";
  bench.pass(2s);
  for (const auto& drive : bench.drives(drivers::OutputRole::Pump))
    EXPECT_FALSE(drive.effect.on_until.has_value());
}

TEST(S11, AnOpenNamesPermitBatchLotAndRisk) {
  BenchEngine bench;
  bench.prove();
  ASSERT_TRUE(bench.ask_change("20 L"));
  bench.pass(5s);
  const auto permits = bench.on_disk("permit");
  ASSERT_EQ(permits.size(), 1U);
  const auto body = nlohmann::json::parse(permits[0].body);
  EXPECT_FALSE(body["id"].get<std::string>().empty());
  EXPECT_EQ(body["lot"], "H-2291");
  EXPECT_FALSE(body["batch"].get<std::string>().empty());
  EXPECT_GT(body["risk"].get<double>(), 0.0);
  EXPECT_LE(body["risk"].get<double>(), 0.01);
  EXPECT_EQ(body["checks"].size(), check_count);
}

TEST(S11, AShutDrivesTheOutputFirstAndNamesItsFirstOutInTheSameTurn) {
  BenchEngine bench;
  bench.prove();
  ASSERT_TRUE(bench.ask_change("20 L"));
  bench.pass(5s);
  bench.forget();
  bench.shown[BenchEngine::leak] = 1.0;
  bench.pass(2s);
  std::optional<std::size_t> off;
  std::optional<std::size_t> shut;
  for (std::size_t i = 0; i < bench.effects().size(); ++i) {
    const Effect& effect = bench.effects()[i].effect;
    if (const auto* drive = std::get_if<DriveOutput>(&effect);
        drive && !drive->on_until && !off && drive->output.role == drivers::OutputRole::Pump)
      off = i;
    if (const auto* append = std::get_if<Append>(&effect))
      for (const RecordEntry& entry : append->entries)
        if (entry.kind == "shut") {
          shut = i;
          EXPECT_EQ(nlohmann::json::parse(entry.body)["first_out"]["id"], "no-leak");
        }
  }
  ASSERT_TRUE(off.has_value());
  ASSERT_TRUE(shut.has_value());
  EXPECT_LT(*off, *shut);
  EXPECT_EQ(bench.effects()[*off].at, bench.effects()[*shut].at);
}

TEST(S11, ALotIsSaidToBeOnRecordOnlyWhenItIs) {
  BenchEngine bench;
  bench.pass(5s);
  bench.disk_works = false;
  const std::string lot =
      R"({"do":"lot add","text":"Lot: H-2291\nSalinity: 35 ppt\nCa 421 mg/L","by":"Ada"})";
  const auto refused = bench.request(lot);
  EXPECT_FALSE(refused["ok"]);
  EXPECT_NE(refused["message"].get<std::string>().find("disk"), std::string::npos) << refused;
  bench.disk_works = true;
  const auto answer = bench.request(R"({"do":"lot","name":"H-2291"})");
  EXPECT_TRUE(answer.is_object());
  bench.pass(5s);
  EXPECT_EQ(bench.on_disk("lot-added").size(), 1U);
}

TEST(S11, WhatWasDoneIsSaidToBeDoneOnlyWhenItIsOnDisk) {
  BenchEngine bench;
  bench.prove();
  const std::string note =
      R"({"id":"n1","station":"mixer","do":"note","text":"a look at the pump"})";
  bench.disk_answers = false;
  EXPECT_TRUE(bench.request(note).is_null());
  EXPECT_TRUE(bench.request(note).is_null()) << "the same id, while nobody knows yet";
  EXPECT_TRUE(bench.on_disk("noted").empty());
  bench.pass(4s);
  ASSERT_FALSE(bench.replies().empty());
  const auto hangs = nlohmann::json::parse(bench.replies().back().payload);
  EXPECT_FALSE(hangs["ok"]) << "nobody waits for ever for a disk that hangs";
}

TEST(S11, WhatTheDiskRefusesIsAnsweredSoAndIsOnRecordOnceItIsTaken) {
  BenchEngine bench;
  bench.prove();
  const std::string note =
      R"({"id":"n1","station":"mixer","do":"note","text":"a look at the pump"})";
  bench.disk_works = false;
  EXPECT_FALSE(bench.request(note)["ok"]);
  bench.disk_works = true;
  bench.pass(5s);
  EXPECT_TRUE(bench.request(note)["ok"]);
  EXPECT_EQ(bench.on_disk("noted").size(), 1U);
}

TEST(S11, WhoStopsAChangeNeedNotWaitForTheDisk) {
  BenchEngine bench;
  bench.prove();
  ASSERT_TRUE(bench.ask_change("50 L"));
  bench.pass(5s);
  bench.disk_answers = false;
  EXPECT_TRUE(bench.request(R"({"station":"mixer","do":"stop"})")["ok"]);
  EXPECT_FALSE(bench.pump_on());
}

TEST(S11, AFullDiskShutsTheGateAndNothingOfTheRecordIsLostWhenSpaceReturns) {
  BenchEngine bench;
  ASSERT_TRUE(bench.begin_change());
  bench.disk_works = false;
  bench.pass(7s);
  EXPECT_FALSE(bench.pump_on());
  EXPECT_TRUE(bench.on_disk("shut").empty());
  bench.disk_works = true;
  bench.pass(10s);
  ASSERT_EQ(bench.on_disk("shut").size(), 1U);
  EXPECT_EQ(nlohmann::json::parse(bench.on_disk("shut")[0].body)["first_out"]["id"], "record-kept");
}

// "It was done, but the disk does not take the record of it".
std::size_t promised(const BenchEngine& bench) {
  return static_cast<std::size_t>(
      std::count_if(bench.replies().begin(), bench.replies().end(), [](const Reply& reply) {
        return reply.payload.find("It was done, but the disk") != std::string::npos;
      }));
}

TEST(S11, WhatTheDiskCannotTakeForLongIsNotBegunAndAStopIsNeverTurnedAway) {
  BenchEngine bench;
  bench.prove();
  bench.disk_works = false;
  bench.pass(2s);
  for (int i = 0; i < 300; ++i)
    bench.request(note_with_id(i));
  bench.pass(2s);
  EXPECT_EQ(promised(bench), 100U);
  const auto refused = bench.request(note_with_id(300));
  EXPECT_NE(refused["message"].get<std::string>().find("nothing was done"), std::string::npos);
  bench.request(note_with_id(0));
  bench.pass(2s);
  EXPECT_EQ(promised(bench), 101U) << "its id is known";
  const auto stopped = bench.request(R"({"id":"s1","station":"mixer","do":"stop"})");
  EXPECT_EQ(stopped["message"].get<std::string>().find("disk"), std::string::npos) << stopped;
  bench.disk_works = true;
  bench.pass(5s);
  EXPECT_EQ(bench.on_disk("noted").size(), 100U);
  EXPECT_TRUE(bench.request(note_with_id(300))["ok"]) << "asked again, as it was told to";
  EXPECT_TRUE(bench.on_disk("entries-lost").empty());
}

TEST(S11, WhatIsLostOfWhatHappensWhileTheDiskTakesNothingIsCountedOnRecord) {
  BenchEngine bench({}, BenchEngine::start(), bench_site(), /*unwritten_kept=*/3);
  bench.prove();
  ASSERT_TRUE(bench.ask_change("50 L"));
  bench.pass(5s);
  bench.disk_works = false;
  bench.pass(10s);  // the gate shuts, the change ends, and there is an alarm of both
  for (int i = 0; i < 20; ++i)
    bench.request(note_with_id(i));
  bench.pass(2s);
  EXPECT_EQ(promised(bench), 0U) << "what would be lost is not begun";
  bench.disk_works = true;
  bench.pass(5s);
  EXPECT_EQ(bench.on_disk("shut").size(), 1U) << "the first are kept";
  const auto lost = bench.on_disk("entries-lost");
  ASSERT_EQ(lost.size(), 1U);
  EXPECT_EQ(nlohmann::json::parse(lost[0].body)["count"], 1);
}

TEST(S11, ARecordThatIsRefusedShutsTheGateThoughTheHistoryIsWritten) {
  BenchEngine bench;
  ASSERT_TRUE(bench.begin_change());
  bench.record_works = false;
  bench.request(note_with_id(1));
  bench.pass(10s);
  EXPECT_FALSE(bench.pump_on());
  EXPECT_NE(bench.check("record-kept").at("verdict"), "met");
}

TEST(S11, ADiskThatDoesNotAnswerAtAllShutsTheGate) {
  BenchEngine bench;
  bench.prove();
  ASSERT_TRUE(bench.ask_change("50 L"));
  bench.pass(5s);
  bench.disk_answers = false;
  bench.pass(std::chrono::seconds(10));
  EXPECT_FALSE(bench.pump_on());
}

TEST(S11, APermitWhoseRecordFailedNeverOpensTheGateLater) {
  BenchEngine bench;
  bench.prove();
  bench.disk_works = false;
  bench.ask_change("20 L");
  bench.pass(5s);
  bench.disk_works = true;
  bench.forget();
  bench.pass(std::chrono::minutes(2));
  for (const auto& drive : bench.drives(drivers::OutputRole::Pump))
    EXPECT_FALSE(drive.effect.on_until.has_value());
}

}  // namespace
}  // namespace brinegate::daemon
