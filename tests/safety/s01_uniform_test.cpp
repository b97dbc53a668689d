// SPDX-License-Identifier: Apache-2.0
// S1: no water that is not the same everywhere. After a pause it must have been moved for a while,
// and cells at different places must not differ.
#include <gtest/gtest.h>

#include "tests/safety/bench_station.h"

namespace brinegate {
namespace {

constexpr std::size_t second_cell = 6;

StationSpec two_cells() {
  StationSpec spec = bench_spec();
  ProbeSpec second = spec.probes[BenchStation::cell];
  second.name = "cell_b";
  spec.probes.push_back(second);
  return spec;
}

void pause(BenchStation& bench, Duration time) {
  bench.shown[BenchStation::circulation] = 0.0;
  bench.pass(time);
  bench.shown[BenchStation::circulation] = 1.0;
}

TEST(S1, AfterAPauseTheWaterIsUniformOnlyAfterFiveMinutesOfCirculation) {
  BenchStation bench;
  bench.prove();
  pause(bench, 2min);
  bench.pass(4min + 50s);
  EXPECT_EQ(bench.verdict(CheckId::Uniform), Verdict::Waiting);
  EXPECT_FALSE(bench.ask_change(10.0).ok());
  bench.pass(30s);
  EXPECT_EQ(bench.verdict(CheckId::Uniform), Verdict::Met);
  EXPECT_TRUE(bench.ask_change(10.0).ok());
}

TEST(S1, AStepOfTheSalinityBeginsTheWaitAfresh) {
  BenchStation bench;
  bench.pass(30s);
  bench.begin_batch();
  bench.pass(10min);
  ASSERT_EQ(bench.verdict(CheckId::Uniform), Verdict::Met);
  bench.salinity_psu -= 0.4;
  bench.pass(5s);
  EXPECT_EQ(bench.verdict(CheckId::Uniform), Verdict::Waiting);
  bench.pass(5min);
  EXPECT_EQ(bench.verdict(CheckId::Uniform), Verdict::Met);
}

TEST(S1, ABubbleDoesNotBeginTheWaitAfresh) {
  BenchStation bench;
  bench.pass(30s);
  bench.begin_batch();
  bench.pass(10min);
  ASSERT_EQ(bench.verdict(CheckId::Uniform), Verdict::Met);
  bench.salinity_psu -= 0.4;
  bench.pass(2s);
  bench.salinity_psu += 0.4;
  bench.pass(10s);
  EXPECT_EQ(bench.verdict(CheckId::Uniform), Verdict::Met);
}

TEST(S1, AProfileThatCirculatesForLessAsksForNoMoreAfterAPause) {
  BenchStation bench;
  bench.pass(30s);
  BeginCommand begin;
  begin.batch = "mixer-1";
  begin.salts = {salt_of("H-2291")};
  begin.profile = bench_profile();
  begin.profile.circulate = 1min;
  bench.ask(begin);
  pause(bench, 1min);
  bench.pass(62s);
  EXPECT_EQ(bench.verdict(CheckId::Uniform), Verdict::Met);
}

TEST(S1, AChangeUnderWayIsNotBrokenOffWhenCirculationStops) {
  BenchStation bench;
  bench.prove();
  ASSERT_TRUE(bench.ask_change(20.0).ok());
  bench.pass(5s);
  bench.shown[BenchStation::circulation] = 0.0;
  bench.pass(30s);
  EXPECT_TRUE(bench.pump_on());
}

TEST(S1, CellsThatDifferWhileTheSaltDissolvesAreNotUniformYetAndNotToBlame) {
  BenchStation bench(two_cells());
  bench.shown[second_cell] = 45.0;
  bench.pass(30s);
  bench.begin_batch();
  NoteCommand note;
  note.salt = Grams(100.0);
  bench.ask(note);
  bench.pass(10min);
  EXPECT_EQ(bench.verdict(CheckId::Uniform), Verdict::Waiting);
  EXPECT_EQ(bench.verdict(CheckId::CellsAgree), Verdict::Waiting);
  for (int i = 0; i < 24 && bench.verdict(CheckId::Dissolved) != Verdict::Met; ++i)
    bench.pass(10min);
  ASSERT_EQ(bench.verdict(CheckId::Dissolved), Verdict::Met);
  EXPECT_EQ(bench.verdict(CheckId::Uniform), Verdict::Waiting);
  EXPECT_EQ(bench.verdict(CheckId::CellsAgree), Verdict::Violated);
}

}  // namespace
}  // namespace brinegate
