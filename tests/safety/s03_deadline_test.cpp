// SPDX-License-Identifier: Apache-2.0
// S3: each probe has a deadline on the monotonic clock; a bad sample is no sample.
#include <gtest/gtest.h>

#include "tests/safety/bench_station.h"

namespace brinegate {
namespace {

Sample sample_at(Instant now, double value) {
  Sample sample;
  sample.value = value;
  sample.fault = SampleFault::None;
  sample.arrived = now.mono;
  return sample;
}

TEST(S3, EveryProbeThatFallsSilentShutsTheGateWithinItsDeadline) {
  const StationSpec spec = bench_spec();
  for (std::size_t probe = 0; probe < spec.probes.size(); ++probe) {
    SCOPED_TRACE(spec.probes[probe].name);
    BenchStation bench;
    bench.prove();
    ASSERT_TRUE(bench.ask_change(50.0).ok());
    bench.pass(10s);
    ASSERT_TRUE(bench.pump_on());
    bench.silent.insert(probe);
    bench.pass(spec.probes[probe].stale_after);
    bench.pass(1s);
    EXPECT_FALSE(bench.pump_on());
    const auto shuts = bench.events<GateShut>();
    ASSERT_FALSE(shuts.empty());
    ASSERT_TRUE(shuts.back().first_out.has_value());
    EXPECT_EQ(shuts.back().first_out->id, CheckId::ProbesGood);
  }
}

TEST(S3, FaultsInsteadOfValuesDoNotKeepAProbeAlive) {
  BenchStation bench;
  bench.prove();
  ASSERT_TRUE(bench.ask_change(50.0).ok());
  bench.pass(10s);
  bench.faults[BenchStation::bath] = SampleFault::Timeout;
  bench.pass(7s);
  EXPECT_FALSE(bench.pump_on());
  EXPECT_EQ(bench.station().readings()[BenchStation::bath].reason(), QualityReason::Fault);
}

TEST(S3, ARetainedValueNeverCounts) {
  const StationSpec spec = bench_spec();
  ProbeJudge judge(spec.probes[BenchStation::bath]);
  const Instant now{MonoTime(1h), WallTime(Duration(1'790'000'000s))};
  Sample sample = sample_at(now, 25.0);
  sample.retained = true;
  EXPECT_EQ(judge.take(sample, {}, false, now).reason, QualityReason::Retained);
  EXPECT_FALSE(judge.reading(now.mono).is_good());
}

TEST(S3, TheSourcesOwnTimeDecidesNotTheArrival) {
  const StationSpec spec = bench_spec();
  ProbeJudge judge(spec.probes[BenchStation::bath]);
  const Instant now{MonoTime(1h), WallTime(Duration(1'790'000'000s))};
  Sample old = sample_at(now, 25.0);
  old.source_time = now.wall - 1min;
  EXPECT_EQ(judge.take(old, {}, false, now).reason, QualityReason::Stale);
  Sample fresh = sample_at(now, 25.0);
  fresh.source_time = now.wall - 1s;
  EXPECT_EQ(judge.take(fresh, {}, false, now).quality, Quality::Good);
  EXPECT_TRUE(judge.reading(now.mono).is_good());
  EXPECT_FALSE(judge.reading(now.mono + 4500ms).is_good()) << "5 s after it was measured";
}

TEST(S3, TheSameMeasurementSentAgainDoesNotCountTwice) {
  const StationSpec spec = bench_spec();
  ProbeJudge judge(spec.probes[BenchStation::bath]);
  Instant now{MonoTime(1h), WallTime(Duration(1'790'000'000s))};
  Sample sample = sample_at(now, 25.0);
  sample.source_time = now.wall;
  ASSERT_EQ(judge.take(sample, {}, false, now).quality, Quality::Good);
  for (int i = 0; i < 8; ++i) {
    now.mono += 1s;
    now.wall += 1s;
    sample.arrived = now.mono;
    EXPECT_EQ(judge.take(sample, {}, false, now).quality, Quality::Bad);
  }
  EXPECT_FALSE(judge.reading(now.mono).is_good());
}

TEST(S3, ASourceWhoseClockRunsAheadIsNotBelieved) {
  const StationSpec spec = bench_spec();
  ProbeJudge judge(spec.probes[BenchStation::bath]);
  const Instant now{MonoTime(1h), WallTime(Duration(1'790'000'000s))};
  Sample sample = sample_at(now, 25.0);
  sample.source_time = now.wall + 1h;
  EXPECT_EQ(judge.take(sample, {}, false, now).reason, QualityReason::SourceClockAhead);
}

}  // namespace
}  // namespace brinegate
