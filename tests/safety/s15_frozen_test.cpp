// SPDX-License-Identifier: Apache-2.0
// S15: profile and lot are frozen into the batch when it begins; an edit of the profile, or of a
// probe that the proof relies on, voids the proof and nothing else.
#include <functional>

#include <gtest/gtest.h>

#include "tests/safety/bench_engine.h"

namespace brinegate::daemon {
namespace {

using Edit = std::function<void(config::Site&)>;

config::Site edited(const Edit& edit) {
  config::Site site = bench_site();
  edit(site);
  return site;
}

ProbeSpec& probe(config::Site& site, std::size_t index) {
  return site.stations[0].spec.probes[index];
}

// A proven batch, the configuration edited, the daemon restarted: why the proof was lost, if it
// was.
std::string lost_by(const Edit& edit) {
  BenchEngine before;
  before.prove();
  BenchEngine after(before.stored(), before.now(), edited(edit));
  after.pass(5s);
  const auto lost = after.on_disk("proof-lost");
  if (lost.empty())
    return after.station()["phase"] == "proven" ? "" : "lost, but not said";
  EXPECT_EQ(after.station()["phase"], "mixing");
  return nlohmann::json::parse(lost.front().body)["reason"];
}

TEST(S15, AnEditOfTheProfileVoidsTheProof) {
  EXPECT_EQ(
      lost_by([](config::Site& site) { site.profiles[0].tolerance += PracticalSalinity(0.5); }),
      "profile edited");
  EXPECT_EQ(lost_by([](config::Site& site) { site.profiles[0].name = "fish"; }), "profile edited");
}

TEST(S15, AnEditOfAProbeThatTheProofReliesOnVoidsIt) {
  const auto entry = [](std::size_t index) {
    return [index](config::Site& site) { probe(site, index).map_entry = "another register"; };
  };
  EXPECT_EQ(lost_by(entry(BenchEngine::cell)), "probe edited");
  EXPECT_EQ(lost_by(entry(BenchEngine::bath)), "probe edited");
  EXPECT_EQ(lost_by(entry(BenchEngine::height)), "probe edited");
  EXPECT_EQ(lost_by(entry(BenchEngine::circulation)), "probe edited");
}

void add_thermometer(config::Site& site) {
  ProbeSpec second = probe(site, BenchEngine::bath);
  second.name = "corner";
  site.stations[0].spec.probes.push_back(second);
  site.stations[0].sources.emplace_back();
}

TEST(S15, AProbeAddedVoidsIt) {
  EXPECT_EQ(lost_by(add_thermometer), "probe edited");
}

TEST(S15, AProbeTakenAwayVoidsIt) {
  BenchEngine before({}, BenchEngine::start(), edited(add_thermometer));
  before.shown[bench_site().stations[0].spec.probes.size()] = 25.0;
  before.prove();
  ASSERT_EQ(before.station()["phase"], "proven");
  BenchEngine after(before.stored(), before.now());
  after.pass(5s);
  ASSERT_EQ(after.on_disk("proof-lost").size(), 1U);
}

TEST(S15, WhatTheProofDoesNotRelyOnMayBeEdited) {
  EXPECT_EQ(lost_by([](config::Site&) {}), "");
  EXPECT_EQ(lost_by([](config::Site& site) {
              probe(site, BenchEngine::leak).map_entry = "another coil";
              probe(site, BenchEngine::readback).map_entry = "another coil";
              site.profiles.push_back(Profile{});
            }),
            "");
}

TEST(S15, ABatchIsJudgedByTheProfileItBeganWith) {
  BenchEngine before;
  before.prove();
  const Edit looser = [](config::Site& site) {
    site.profiles[0].tolerance += PracticalSalinity(0.5);
  };
  BenchEngine after(before.stored(), before.now(), edited(looser));
  after.pass(5s);
  EXPECT_EQ(after.station()["batch"]["tolerance_g_kg"], 1.0);
  after.pass(std::chrono::minutes(45));
  EXPECT_EQ(after.station()["phase"], "proven") << "proven afresh";

  BenchEngine again(after.stored(), after.now(), edited(looser));
  again.pass(5s);
  EXPECT_EQ(again.station()["phase"], "proven") << "an edit voids one proof, not the next";
}

TEST(S15, ACalibrationBelongsToTheMapEntryItWasMadeWith) {
  BenchEngine before;
  before.pass(30s);
  before.salinity_psu = 34.0;
  ASSERT_TRUE(before.request(
      R"({"station":"mixer","do":"calibrate","probe":"cell_a","standard":"53.07 mS/cm"})")["ok"]);
  BenchEngine after(before.stored(), before.now(), edited([](config::Site& site) {
                      probe(site, BenchEngine::cell).map_entry = "another register";
                    }));
  after.salinity_psu = 34.0;
  after.pass(5s);
  EXPECT_NEAR(after.station()["salinity"]["practical_salinity"].get<double>(), 34.0, 0.01);
  ASSERT_EQ(after.on_disk("map-entry-edited").size(), 1U);
  const auto said = nlohmann::json::parse(after.on_disk("map-entry-edited")[0].body);
  EXPECT_NE(said["reason"].get<std::string>().find("not applied"), std::string::npos);
}

}  // namespace
}  // namespace brinegate::daemon
