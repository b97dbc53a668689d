// SPDX-License-Identifier: Apache-2.0
// S22: what is read over a register map is once held against what the probe's own display shows, at
// two points; an edit of the map voids that.
#include <gtest/gtest.h>

#include "rules/verification.h"
#include "tests/safety/bench_engine.h"

namespace brinegate::daemon {
namespace {

constexpr PracticalSalinity sea{34.836};
constexpr PracticalSalinity fresh{0.05};

config::Site site_on_registers(const std::string& entry = "input 0 ABCD") {
  config::Site site = bench_site();
  ProbeSpec& cell = site.stations[0].spec.probes[BenchEngine::cell];
  cell.on_register_map = true;
  cell.map_entry = entry;
  return site;
}

nlohmann::json verify(BenchEngine& bench, const std::string& probe, const std::string& shows,
                      Origin origin = Origin::Local) {
  const nlohmann::json request = {
      {"id", shows}, {"station", "mixer"}, {"do", "verify"}, {"probe", probe}, {"shows", shows}};
  return bench.request(request.dump(), origin);
}

// Hangs the cell into this water and tells what an honest display shows there.
nlohmann::json verify_in(BenchEngine& bench, PracticalSalinity water) {
  bench.salinity_psu = water.value();
  bench.pass(5s);
  const double shows = conductivity(water, Celsius(25.0)).value();
  return verify(bench, "cell_a", std::to_string(shows) + " mS/cm");
}

void verify_cell(BenchEngine& bench) {
  ASSERT_TRUE(verify_in(bench, fresh)["ok"]);
  ASSERT_TRUE(verify_in(bench, sea)["ok"]);
}

TEST(S22, NothingIsProvenOnARegisterMapThatNobodyVerified) {
  BenchEngine bench({}, BenchEngine::start(), site_on_registers());
  bench.prove();
  const auto station = bench.station();
  EXPECT_EQ(station["phase"], "mixing");
  EXPECT_EQ(station["readings"]["cell_a"]["verified"], false);
  EXPECT_TRUE(station["readings"]["bath"]["verified"].is_null());
  EXPECT_NE(station["headline"].get<std::string>().find("Verify cell_a"), std::string::npos);
  EXPECT_EQ(bench.check("probes-verified")["verdict"], "waiting");
}

TEST(S22, TwoPointsThatAgreeAndLieFarApartVerify) {
  BenchEngine bench({}, BenchEngine::start(), site_on_registers());
  const auto first = verify_in(bench, sea);
  EXPECT_TRUE(first["ok"]);
  EXPECT_NE(first["message"].get<std::string>().find("one more point"), std::string::npos);
  EXPECT_TRUE(verify_in(bench, PracticalSalinity(32.0))["ok"]);
  EXPECT_EQ(bench.check("probes-verified")["verdict"], "waiting") << "4 mS/cm are not far apart";
  EXPECT_TRUE(verify_in(bench, fresh)["ok"]);
  EXPECT_EQ(bench.check("probes-verified")["verdict"], "met");
  EXPECT_EQ(bench.on_disk("verification").size(), 3U);
  bench.salinity_psu = sea.value();
  bench.prove();
  EXPECT_TRUE(bench.ask_change("10 L"));
}

TEST(S22, APointThatDisagreesIsAnsweredWithBothNumbersAndVoidsWhatWasThere) {
  BenchEngine bench({}, BenchEngine::start(), site_on_registers());
  verify_cell(bench);
  bench.prove();
  ASSERT_TRUE(bench.ask_change("40 L"));
  bench.pass(5s);
  ASSERT_TRUE(bench.pump_on());
  const auto answer = verify(bench, "cell_a", "5.284 mS/cm");
  EXPECT_FALSE(answer["ok"]);
  const auto message = answer["message"].get<std::string>();
  EXPECT_NE(message.find("52.8"), std::string::npos) << message;
  EXPECT_NE(message.find("5.28"), std::string::npos) << message;
  ASSERT_EQ(answer["reasons"].size(), 1U);
  EXPECT_NE(answer["reasons"][0].get<std::string>().find("10 times too large"), std::string::npos);
  EXPECT_FALSE(bench.pump_on());
  const auto shut = nlohmann::json::parse(bench.on_disk("shut").back().body);
  EXPECT_EQ(shut["first_out"]["id"], "probes-verified");
  EXPECT_EQ(nlohmann::json::parse(bench.on_disk("verification").back().body)["agrees"], false);
}

TEST(S22, AVerificationOutlivesARestartAndAnEditOfTheMapEntryVoidsIt) {
  BenchEngine before({}, BenchEngine::start(), site_on_registers());
  verify_cell(before);
  BenchEngine same(before.stored(), before.now(), site_on_registers());
  same.pass(5s);
  EXPECT_EQ(same.check("probes-verified")["verdict"], "met");
  EXPECT_TRUE(same.on_disk("map-entry-edited").empty());

  BenchEngine edited(before.stored(), before.now(), site_on_registers("input 0 CDAB"));
  edited.pass(5s);
  EXPECT_EQ(edited.check("probes-verified")["verdict"], "waiting");
  ASSERT_EQ(edited.on_disk("map-entry-edited").size(), 1U);
  const auto said = nlohmann::json::parse(edited.on_disk("map-entry-edited")[0].body);
  EXPECT_EQ(said["probe"], "cell_a");

  BenchEngine back(edited.stored(), edited.now(), site_on_registers());
  back.pass(5s);
  EXPECT_EQ(back.check("probes-verified")["verdict"], "waiting") << "void is void";
}

TEST(S22, AContactIsVerifiedByBeingSeenInBothStates) {
  config::Site site = bench_site();
  site.stations[0].spec.probes[BenchEngine::leak].on_register_map = true;
  BenchEngine bench({}, BenchEngine::start(), site);
  bench.pass(5s);
  EXPECT_TRUE(verify(bench, "floor", "dry")["ok"]);
  EXPECT_EQ(bench.check("probes-verified")["verdict"], "waiting");
  EXPECT_NE(bench.check("probes-verified")["sentence"].get<std::string>().find("wet"),
            std::string::npos);
  bench.shown[BenchEngine::leak] = 1.0;
  bench.pass(5s);
  EXPECT_FALSE(verify(bench, "floor", "moist")["ok"]);
  EXPECT_TRUE(verify(bench, "floor", "wet")["ok"]);
  EXPECT_EQ(bench.check("probes-verified")["verdict"], "met");
}

TEST(S22, AContactOfWrongPolarityIsToldAtOnce) {
  config::Site site = bench_site();
  site.stations[0].spec.probes[BenchEngine::leak].on_register_map = true;
  BenchEngine bench({}, BenchEngine::start(), site);
  bench.pass(5s);
  const auto answer = verify(bench, "floor", "wet");
  EXPECT_FALSE(answer["ok"]);
  EXPECT_NE(answer["reasons"][0].get<std::string>().find("closed_means"), std::string::npos);
}

TEST(S22, WhatNoReadingWouldAcceptIsComparedAllTheSame) {
  BenchEngine bench({}, BenchEngine::start(), site_on_registers());
  bench.shown[BenchEngine::cell] = 0.0;  // in air; as a reading it is a fault
  bench.pass(5s);
  EXPECT_TRUE(verify(bench, "cell_a", "0.00 mS/cm")["ok"]);
  bench.shown[BenchEngine::cell] = 5300.0;
  bench.pass(5s);
  EXPECT_FALSE(verify(bench, "cell_a", "53.0 mS/cm")["ok"]);
}

TEST(S22, ProbesWithoutARegisterMapAndSimulatedOnesAreNotAsked) {
  config::Site site = site_on_registers();
  site.stations[0].spec.probes[BenchEngine::cell].simulated = true;
  site.stations[0].spec.probes[BenchEngine::readback].on_register_map = true;
  BenchEngine bench({}, BenchEngine::start(), site);
  bench.pass(5s);
  EXPECT_EQ(bench.check("probes-verified")["verdict"], "not asked");
  const auto answer = verify(bench, "bath", "25 C");
  EXPECT_FALSE(answer["ok"]);
  EXPECT_NE(answer["message"].get<std::string>().find("needs no verification"), std::string::npos);
}

TEST(S22, AVerificationCannotComeFromTheNetwork) {
  BenchEngine bench({}, BenchEngine::start(), site_on_registers());
  bench.pass(5s);
  EXPECT_FALSE(verify(bench, "cell_a", "52.84 mS/cm", Origin::Network)["ok"]);
  EXPECT_TRUE(bench.on_disk("verification").empty());
}

}  // namespace
}  // namespace brinegate::daemon
