// SPDX-License-Identifier: Apache-2.0
// S16: whatever changes the water voids the proof.
#include <gtest/gtest.h>

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

TEST(S16, ASalinityThatMovesInsideTheToleranceVoidsTheProof) {
  BenchStation bench;
  bench.prove();
  bench.salinity_psu -= 0.4;
  bench.pass(20s);
  ASSERT_EQ(bench.events<ProofLost>().size(), 1U);
  EXPECT_EQ(bench.events<ProofLost>()[0].reason, ProofVoid::SalinityMoved);
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
  begin.lot = "H-2291";
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

}  // namespace
}  // namespace brinegate
