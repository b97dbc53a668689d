// SPDX-License-Identifier: Apache-2.0
// S1: the pump is off unless a valid permit exists.
#include <gtest/gtest.h>

#include "config/advice.h"
#include "rules/gate.h"
#include "tests/safety/bench_station.h"

namespace brinegate {
namespace {

TEST(S1, AStationThatHasJustBeenMadeIsShutWithEveryCheckViolated) {
  const StationSpec spec = bench_spec();
  const Station station(spec);
  EXPECT_EQ(station.gate().state(), GateState::Shut);
  for (const CheckResult& check : station.checks())
    EXPECT_EQ(check.verdict, Verdict::Violated);
}

TEST(S1, ThePumpIsOffFromStartUntilAChangeOfAProvenBatchIsAsked) {
  BenchStation bench;
  bench.pass(30s);
  EXPECT_FALSE(bench.pump_on());
  bench.begin_batch();
  for (int minute = 0; minute < 60; ++minute) {
    bench.pass(1min);
    ASSERT_FALSE(bench.pump_on()) << "minute " << minute;
  }
  ASSERT_EQ(bench.phase(), BatchPhase::Proven);
  const CommandAnswer answer = bench.ask_change(40.0);
  ASSERT_TRUE(answer.ok());
  bench.pass(5s);
  EXPECT_TRUE(bench.pump_on());
}

TEST(S1, AChangeIsRefusedWithTheReasonsWhileTheBatchIsNotProven) {
  BenchStation bench;
  bench.pass(30s);
  bench.begin_batch();
  bench.pass(5min);
  const CommandAnswer answer = bench.ask_change(40.0);
  EXPECT_EQ(answer.code, AnswerCode::ChecksNotMet);
  EXPECT_FALSE(answer.unmet.empty());
  bench.pass(1h);
  EXPECT_FALSE(bench.pump_on()) << "a refused change must not start later";
}

TEST(S1, EachCheckAloneKeepsTheGateShut) {
  struct Spoil {
    const char* name;
    CheckId check;
    void (*how)(BenchStation&);
  };
  const std::vector<Spoil> spoils{
      {"record", CheckId::RecordKept, [](BenchStation& b) { b.record_kept = false; }},
      {"probe silent", CheckId::ProbesGood,
       [](BenchStation& b) { b.silent.insert(BenchStation::bath); }},
      {"simulated", CheckId::RealSource, [](BenchStation& b) { b.simulated = true; }},
      {"leak", CheckId::NoLeak, [](BenchStation& b) { b.shown[BenchStation::leak] = 1.0; }},
      {"low", CheckId::LevelAboveLow,
       [](BenchStation& b) { b.shown[BenchStation::height] = 19.0; }},
      {"welded", CheckId::PumpFollows, [](BenchStation& b) { b.relay_welded = true; }},
      {"output deaf", CheckId::PumpFollows, [](BenchStation& b) { b.output_answers = false; }},
      {"weak", CheckId::OnTarget, [](BenchStation& b) { b.salinity_psu = 33.0; }},
      {"strong", CheckId::OnTarget, [](BenchStation& b) { b.salinity_psu = 37.0; }},
      {"beyond the scale", CheckId::OnTarget, [](BenchStation& b) { b.salinity_psu = 46.0; }},
      {"cold", CheckId::TemperatureRight,
       [](BenchStation& b) { b.shown[BenchStation::bath] = 23.0; }},
      {"warm", CheckId::TemperatureRight,
       [](BenchStation& b) { b.shown[BenchStation::bath] = 27.0; }},
  };
  for (const Spoil& spoil : spoils) {
    SCOPED_TRACE(spoil.name);
    BenchStation bench;
    bench.prove();
    ASSERT_EQ(bench.phase(), BatchPhase::Proven);
    spoil.how(bench);
    bench.pass(20s);
    EXPECT_FALSE(lets_through(bench.verdict(spoil.check)));
    EXPECT_FALSE(bench.ask_change(10.0).ok());
    bench.pass(1min);
    EXPECT_FALSE(bench.open());
  }
}

// As when the salt for the whole reservoir went into what stood in it half full.
TEST(S1, ABatchBeyondTheEndOfPracticalSalinityIsRejectedAndSaysWhatToAdd) {
  BenchStation bench;
  bench.salinity_psu = 46.0;
  bench.shown[BenchStation::height] = 100.0;
  bench.prove();
  bench.pass(2h);
  EXPECT_EQ(bench.phase(), BatchPhase::Rejected);
  const auto final = config::final_salinity(bench.station());
  ASSERT_TRUE(final);
  EXPECT_NEAR(final->value.value(), 46.0, 0.1);
  EXPECT_GT(final->standard_uncertainty.value(), 0.4);
  const auto ways = config::corrections_for(bench.station());
  ASSERT_FALSE(ways.empty());
  EXPECT_TRUE(ways.front().fits);
  // By mass: 103.16 kg of 46, diluted to 34.836, take 33.05 kg of water of 0.997 kg/L.
  EXPECT_NEAR(ways.front().water.value(), 33.1, 0.15);
}

// Where no cell can prove it, no tolerance does.
TEST(S1, NothingBeyondTheEndOfPracticalSalinityIsEverProven) {
  BenchStation bench;
  bench.salinity_psu = 42.2;
  bench.pass(30s);
  BeginCommand begin;
  begin.batch = "mixer-1";
  begin.salts = {salt_of("H-2291")};
  begin.profile = bench_profile();
  begin.profile.target = PracticalSalinity(42.0);
  begin.profile.tolerance = PracticalSalinity(3.0);
  bench.ask(begin);
  bench.pass(2h);
  EXPECT_EQ(bench.verdict(CheckId::OnTarget), Verdict::Violated);
  bench.salinity_psu = 41.8;
  bench.pass(3h);
  EXPECT_EQ(bench.phase(), BatchPhase::Proven);
}

TEST(S1, EveryCheckIsMetOnAGoodProvenBatch) {
  BenchStation bench;
  bench.prove();
  for (const CheckResult& check : bench.station().checks())
    EXPECT_TRUE(lets_through(check.verdict)) << check_row(check.id).name;
}

TEST(S1, WhatStandsStillIsNotCirculatedHoweverLong) {
  BenchStation bench;
  bench.shown[BenchStation::circulation] = 0.0;
  bench.prove();
  bench.pass(1h);
  EXPECT_EQ(bench.station().batch().circulated, Duration::zero());
  EXPECT_FALSE(lets_through(bench.verdict(CheckId::Circulated)));
}

TEST(S1, ALeakContactThatFallsSilentIsNotTakenForDry) {
  BenchStation bench;
  bench.prove();
  bench.silent.insert(BenchStation::leak);
  bench.pass(1min);
  EXPECT_EQ(bench.verdict(CheckId::NoLeak), Verdict::Waiting);
}

TEST(S1, NothingIsBegunWhileTheDaemonEnds) {
  BenchStation bench;
  bench.prove();
  bench.ending = true;
  EXPECT_EQ(bench.ask_change(10.0).code, AnswerCode::Ending);
}

TEST(S1, EndingTheDaemonShutsTheGateInTheSameTurn) {
  BenchStation bench;
  bench.prove();
  ASSERT_TRUE(bench.ask_change(40.0).ok());
  bench.pass(10s);
  ASSERT_TRUE(bench.pump_on());
  bench.ending = true;
  bench.pass(1s);
  EXPECT_FALSE(bench.pump_on());
  EXPECT_FALSE(bench.second_cutoff_on());
}

TEST(S1, TheGateOpensOnlyAfterADwellThatATogglingCheckCannotShorten) {
  Gate gate;
  MonoTime now(1h);
  GateInputs inputs;
  inputs.wanted = true;
  inputs.permit = Permit{"p1", "b", "l", 0.0, Litres(1.0)};
  inputs.dwell = 10s;
  for (int round = 0; round < 100; ++round) {
    now += 1s;
    inputs.every_check_met = round % 9 != 8;  // never met for more than 8 s
    EXPECT_EQ(gate.step(inputs, now), GateChange::None);
  }
}

}  // namespace
}  // namespace brinegate
