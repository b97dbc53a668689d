// SPDX-License-Identifier: Apache-2.0
// S16: whatever changes the water voids the proof.
#include <gtest/gtest.h>

#include "rules/acceptance.h"
#include "tests/safety/bench_station.h"

namespace brinegate {
namespace {

TEST(S16, ALevelThatRisesVoidsTheProof) {
  BenchStation bench;
  bench.prove();
  bench.shown[BenchStation::height] += 8.0;
  bench.pass(15s);
  EXPECT_EQ(bench.phase(), BatchPhase::Mixing);
  ASSERT_EQ(bench.events<ProofLost>().size(), 1U);
  EXPECT_EQ(bench.events<ProofLost>()[0].reason, ProofVoid::LevelRose);
}

TEST(S16, SaltOrWaterNotedVoidsTheProof) {
  BenchStation bench;
  bench.prove();
  NoteCommand note;
  note.water = Litres(1.0);
  ASSERT_TRUE(bench.ask(note).ok());
  EXPECT_EQ(bench.phase(), BatchPhase::Mixing);
  EXPECT_FALSE(bench.ask_change(10.0).ok());
}

TEST(S16, ACalibrationVoidsTheProof) {
  BenchStation bench;
  bench.prove();
  const double shown = conductivity(PracticalSalinity(bench.salinity_psu), Celsius(25.0)).value();
  ASSERT_TRUE(bench.ask(CalibrateCommand{BenchStation::cell, shown}).ok());
  EXPECT_EQ(bench.phase(), BatchPhase::Mixing);
  ASSERT_EQ(bench.events<ProofLost>().size(), 1U);
  EXPECT_EQ(bench.events<ProofLost>()[0].reason, ProofVoid::Recalibrated);
}

TEST(S16, ABatchThatIsBeingMixedIsNotReplacedByAnother) {
  BenchStation bench;
  bench.pass(30s);
  bench.begin_batch();
  bench.pass(1min);
  BeginCommand another;
  another.batch = "mixer-2";
  another.salts = {salt_of("H-2304")};
  another.profile = bench_profile();
  EXPECT_EQ(bench.ask(another).code, AnswerCode::BatchInProgress);
  EXPECT_EQ(bench.station().batch().id, "mixer-1");
}

TEST(S16, ASalinityThatMovesInsideTheToleranceVoidsTheProof) {
  BenchStation bench;
  bench.prove();
  bench.salinity_psu -= 0.4;
  bench.pass(20s);
  ASSERT_EQ(bench.events<ProofLost>().size(), 1U);
  EXPECT_EQ(bench.events<ProofLost>()[0].reason, ProofVoid::SalinityMoved);
}

double risk(BenchStation& bench) {
  return bench.station().checks()[static_cast<std::size_t>(CheckId::OnTarget)].risk.value_or(1.0);
}

// Salter than the target by so much that it is just proven.
void prove_near_the_limit(BenchStation& bench) {
  const Profile profile = bench_profile();
  const auto left = acceptance(bench.spec().probes, {}, {}, profile);
  bench.station().set_known_since(BenchStation::cell, bench.now().wall);
  bench.salinity_psu = (profile.target + *left->half_width).value() - 0.03;
  bench.prove();
}

TEST(S16, AReadingThatWaversAtTheLimitDoesNotOpenAndShutTheGate) {
  BenchStation bench;
  prove_near_the_limit(bench);
  ASSERT_EQ(bench.phase(), BatchPhase::Proven);
  const double proven = bench.salinity_psu;
  for (int i = 0; i < 20; ++i) {
    bench.salinity_psu = proven + (i % 2 == 0 ? 0.06 : 0.0);
    bench.pass(1min);
    EXPECT_EQ(bench.verdict(CheckId::OnTarget), Verdict::Met);
    const double needed = i % 2 == 0 ? bench_profile().risk : 0.0;
    EXPECT_GT(risk(bench), needed) << "with which it would not be proven";
  }
  bench.salinity_psu = proven + 0.15;
  bench.pass(1min);
  EXPECT_GT(risk(bench), 2.0 * bench_profile().risk);
  EXPECT_EQ(bench.verdict(CheckId::OnTarget), Verdict::Waiting);
}

TEST(S16, AProofWhoseRiskGrewWithTheAgeOfItsCalibrationIsJudgedAfreshAndNotShutForEver) {
  BenchStation bench;
  prove_near_the_limit(bench);
  ASSERT_EQ(bench.phase(), BatchPhase::Proven);
  bench.jump_wall_time(24h * 60);
  bench.pass(1min);
  EXPECT_GT(risk(bench), 2.0 * bench_profile().risk);
  EXPECT_FALSE(bench.ask_change(10.0).ok());
  EXPECT_EQ(bench.phase(), BatchPhase::Proven) << "it may only seem so for a while";
  bench.pass(1h);
  ASSERT_EQ(bench.events<ProofLost>().size(), 1U);
  EXPECT_EQ(bench.events<ProofLost>()[0].reason, ProofVoid::RiskGrew);
  bench.pass(2h);
  EXPECT_EQ(bench.phase(), BatchPhase::Rejected) << "so that a person is told what to add";
}

TEST(S16, ANoteThatComesWithTheOpenTakesTheProofAndShutsInTheSameTurn) {
  for (int seconds_after = 0; seconds_after < 4; ++seconds_after) {
    SCOPED_TRACE(seconds_after);
    BenchStation bench;
    bench.prove();
    ASSERT_TRUE(bench.ask_change(40.0).ok());
    bench.pass(seconds_after * 1s);
    NoteCommand note;
    note.salt = Grams(100.0);
    ASSERT_TRUE(bench.ask(note).ok());
    EXPECT_FALSE(bench.pump_on());
    bench.pass(1s);
    EXPECT_EQ(bench.phase(), BatchPhase::Mixing);
    EXPECT_FALSE(bench.station().batch().proof.has_value());
  }
}

TEST(S16, AVoidedProofIsNotGivenAgainInTheSameTurnEvenWithoutACirculationTime) {
  BenchStation bench;
  bench.pass(30s);
  BeginCommand begin;
  begin.batch = "mixer-1";
  begin.salts = {salt_of("H-2291")};
  begin.profile = bench_profile();
  begin.profile.circulate = Duration::zero();
  bench.ask(begin);
  bench.pass(60min);
  ASSERT_EQ(bench.phase(), BatchPhase::Proven);
  NoteCommand note;
  note.water = Litres(5.0);
  bench.ask(note);
  bench.pass(1min);
  EXPECT_EQ(bench.phase(), BatchPhase::Mixing);
}

TEST(S16, AProofThatWasLostIsGivenAgainOnlyAfterFreshCirculation) {
  BenchStation bench;
  bench.prove();
  NoteCommand note;
  note.water = Litres(0.1);
  bench.ask(note);
  bench.pass(29min);
  EXPECT_EQ(bench.phase(), BatchPhase::Mixing);
  bench.pass(3min);
  EXPECT_EQ(bench.phase(), BatchPhase::Proven);
}

ProofVoid lost_by(const BenchStation& bench) {
  const auto lost = bench.events<ProofLost>();
  return lost.empty() ? ProofVoid::None : lost.front().reason;
}

TEST(S16, CirculationThatStandsStillTooLongVoidsTheProof) {
  BenchStation bench;
  bench.prove();
  bench.shown[BenchStation::circulation] = 0.0;
  bench.pass(5h + 55min, 10s);
  EXPECT_EQ(bench.phase(), BatchPhase::Proven);
  bench.shown[BenchStation::circulation] = 1.0;
  bench.pass(1min);
  bench.shown[BenchStation::circulation] = 0.0;
  bench.pass(5h + 55min, 10s);
  EXPECT_EQ(bench.phase(), BatchPhase::Proven) << "it ran in between";
  bench.pass(10min);
  EXPECT_EQ(lost_by(bench), ProofVoid::StoodStill);
}

TEST(S16, HoursInWhichNobodyWatchedCountAsStandingStill) {
  for (const auto& [away, reason] :
       {std::pair<Duration, ProofVoid>{7h, ProofVoid::StoodStill}, {5h, ProofVoid::None}}) {
    BenchStation bench;
    bench.prove();
    const StationMemory memory = bench.station().memory(bench.now());
    bench.jump_wall_time(away);
    bench.restart(memory);
    bench.pass(10s);
    EXPECT_EQ(lost_by(bench), reason);
  }
}

TEST(S16, WithoutACirculationContactNothingIsSaidOfStandingStill) {
  StationSpec spec = bench_spec();
  spec.probes[BenchStation::circulation].measures = Measures::TankHigh;
  BenchStation bench(spec);
  bench.shown[BenchStation::circulation] = 0.0;
  bench.prove();
  ASSERT_EQ(bench.phase(), BatchPhase::Proven);
  const StationMemory memory = bench.station().memory(bench.now());
  bench.jump_wall_time(30h);
  bench.restart(memory);
  bench.pass(10h, 10s);
  EXPECT_EQ(bench.phase(), BatchPhase::Proven);
}

// Of 180 L at 35 g/kg with 1 g/kg of tolerance left, half of it is used up by 180 L x 0.5 / 35.
constexpr double half_used_up_litres = 180.0 * 0.5 / 35.0;

TEST(S16, EvaporationThatUsesUpHalfOfTheToleranceVoidsTheProof) {
  BenchStation bench;
  bench.prove();
  const auto evaporate_to = [&](double lost) {
    while (bench.shown[BenchStation::height] > 180.0 - lost) {
      bench.shown[BenchStation::height] -= 0.1;
      bench.pass(20min, 10s);
    }
  };
  evaporate_to(half_used_up_litres - 0.15);
  EXPECT_EQ(bench.phase(), BatchPhase::Proven);
  evaporate_to(half_used_up_litres + 0.15);
  EXPECT_EQ(lost_by(bench), ProofVoid::Evaporated);
}

TEST(S16, WhatIsDrawnOrNotedAsRemovedHasNotEvaporated) {
  BenchStation bench;
  bench.prove();
  ASSERT_TRUE(bench.ask_change(40.0).ok());
  bench.pass(10min);
  ASSERT_LT(bench.shown[BenchStation::height], 141.0);
  NoteCommand note;
  note.removed = Litres(3.0);
  ASSERT_TRUE(bench.ask(note).ok());
  bench.shown[BenchStation::height] -= 3.0;
  bench.pass(10min);
  EXPECT_EQ(lost_by(bench), ProofVoid::None);
  bench.shown[BenchStation::height] -= 3.0;
  bench.pass(10min);
  EXPECT_EQ(lost_by(bench), ProofVoid::Evaporated);
}

TEST(S16, WhatEvaporatedBeforeAChangeAndWhileNobodyWatchedCounts) {
  BenchStation bench;
  bench.prove();
  bench.shown[BenchStation::height] -= 1.5;
  bench.pass(20min);
  ASSERT_TRUE(bench.ask_change(10.0).ok());
  bench.pass(5min);
  const StationMemory memory = bench.station().memory(bench.now());
  bench.restart(memory);
  bench.shown[BenchStation::height] -= 1.5;
  bench.pass(5min);
  EXPECT_EQ(lost_by(bench), ProofVoid::Evaporated);
}

// Age counts from the begin and nothing takes it back, so the check alone suffices: no proof given
// afresh can make an old batch usable.
TEST(S16, AnOldBatchStaysShutWhateverIsDoneToIt) {
  BenchStation bench;
  bench.prove();
  bench.pass(14 * 24h, 30s);
  EXPECT_EQ(bench.verdict(CheckId::NotTooOld), Verdict::Violated);
  NoteCommand note;
  note.water = Litres(0.5);
  bench.ask(note);
  bench.pass(45min);
  EXPECT_EQ(bench.phase(), BatchPhase::Proven);
  const CommandAnswer answer = bench.ask_change(10.0);
  ASSERT_EQ(answer.unmet.size(), 1U);
  EXPECT_EQ(answer.unmet.front().id, CheckId::NotTooOld);
}

}  // namespace
}  // namespace brinegate
