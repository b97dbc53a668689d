// SPDX-License-Identifier: Apache-2.0
// What becomes of samples (S3, S4): a bad one is no sample, one bubble changes nothing, and age is
// judged by the source's time without trusting either clock alone.
#include "rules/quality.h"

#include <limits>
#include <optional>

#include <gtest/gtest.h>

namespace brinegate {
namespace {

using namespace std::chrono_literals;

constexpr auto year_2026 = WallTime(1782864000s);

class Judging : public testing::Test {
 protected:
  Judging() { spec.limits = default_sample_limits(Measures::Conductivity, 250.0); }

  JudgedSample take(double value) { return take(value, std::nullopt); }
  JudgedSample take(double value, std::optional<Duration> source_age) {
    Sample sample;
    sample.value = value;
    sample.fault = SampleFault::None;
    sample.arrived = now.mono;
    if (source_age)
      sample.source_time = source_clock() - *source_age;
    return judge().take(sample, calibration, salt_expected, now);
  }
  void pass(Duration time) {
    now.mono += time;
    now.wall += time;
  }
  [[nodiscard]] WallTime source_clock() const { return now.wall + source_clock_ahead; }
  ProbeJudge& judge() {
    if (!judge_)
      judge_.emplace(spec);
    return *judge_;
  }
  Reading reading() { return judge().reading(now.mono); }

  ProbeSpec spec;
  Calibration calibration;
  bool salt_expected = true;
  Instant now{MonoTime(1h), year_2026};
  Duration source_clock_ahead{0};

 private:
  std::optional<ProbeJudge> judge_;
};

TEST_F(Judging, BeforeTheFirstSampleIsBad) {
  EXPECT_EQ(reading().quality(), Quality::Bad);
  EXPECT_EQ(reading().reason(), QualityReason::NoSample);
}

TEST_F(Judging, KeepsAGoodReadingUntilItsDeadlineAndNoLonger) {
  EXPECT_EQ(take(53.0).quality, Quality::Good);
  pass(spec.stale_after);
  EXPECT_EQ(reading().good_value(), 53.0);
  pass(1ns);
  EXPECT_EQ(reading().reason(), QualityReason::Stale);
  EXPECT_EQ(reading().good_value(), std::nullopt);
}

TEST_F(Judging, SaysWhatLeftNoGoodSample) {
  take(53.0);
  pass(3s);
  EXPECT_EQ(take(0.2).reason, QualityReason::InAir);
  EXPECT_EQ(reading().good_value(), 53.0);
  pass(3s);
  EXPECT_EQ(reading().reason(), QualityReason::InAir);
}

TEST_F(Judging, RefusesWhatNoHonestProbeSays) {
  EXPECT_EQ(take(std::numeric_limits<double>::quiet_NaN()).reason, QualityReason::NotANumber);
  EXPECT_EQ(take(std::numeric_limits<double>::infinity()).reason, QualityReason::NotANumber);
  EXPECT_EQ(take(0.0).reason, QualityReason::ExactlyZero);
  EXPECT_EQ(take(71.0).reason, QualityReason::GrossRange);
  EXPECT_EQ(take(0.5).reason, QualityReason::InAir);
  salt_expected = false;
  EXPECT_EQ(take(0.5).quality, Quality::Good);
}

TEST_F(Judging, NeverLetsANumberThroughThatIsNone) {
  calibration.offset = std::numeric_limits<double>::quiet_NaN();
  EXPECT_EQ(take(53.0).reason, QualityReason::NotANumber);
  calibration.offset = 0.0;
  spec.conversion.scale = std::numeric_limits<double>::max();
  EXPECT_EQ(take(53.0).reason, QualityReason::NotANumber);
}

TEST_F(Judging, AsksAJumpToBeConfirmedByTheNextSample) {
  take(53.0);
  pass(1s);
  EXPECT_EQ(take(40.0).reason, QualityReason::Spike);
  pass(1s);
  EXPECT_EQ(take(53.0).quality, Quality::Good);
  pass(1s);
  EXPECT_EQ(take(40.0).reason, QualityReason::Spike) << "the first bubble confirms no second one";
  pass(1s);
  EXPECT_EQ(take(40.1).reason, QualityReason::RateOfChange) << "confirmed, but too fast to be true";
  EXPECT_FALSE(reading().is_good());
  pass(1s);
  EXPECT_EQ(take(40.0).quality, Quality::Good);
}

TEST_F(Judging, TellsAFrozenProbeFromAStillOne) {
  for (Duration t{0}; t < *spec.limits.flat_line_after; t += 5s, pass(5s))
    ASSERT_EQ(take(53.0).quality, Quality::Good);
  EXPECT_EQ(take(53.0).reason, QualityReason::FlatLine);
  EXPECT_EQ(reading().reason(), QualityReason::FlatLine);
  pass(1s);
  EXPECT_EQ(take(53.01).quality, Quality::Good);
}

TEST_F(Judging, BelievesOnlyZeroAndOneOfAContact) {
  spec.measures = Measures::Leak;
  EXPECT_EQ(take(1.0).quality, Quality::Good);
  EXPECT_EQ(take(0.0).quality, Quality::Good);
  EXPECT_EQ(take(0.5).reason, QualityReason::GrossRange);
}

TEST_F(Judging, TakesNoRetainedValue) {
  Sample sample{53.0, SampleFault::None, now.mono, std::nullopt, true, false};
  EXPECT_EQ(judge().take(sample, {}, true, now).reason, QualityReason::Retained);
}

TEST_F(Judging, CountsTheSourcesTimeNotTheArrival) {
  EXPECT_EQ(take(53.0, 2s).quality, Quality::Good);
  EXPECT_EQ(reading().taken(), now.mono - 2s);
  pass(3s);
  EXPECT_TRUE(reading().is_good());
  pass(1ms);
  EXPECT_FALSE(reading().is_good());
  EXPECT_EQ(take(53.1, spec.stale_after + 1ms).reason, QualityReason::Stale);
  source_clock_ahead = 3s;
  EXPECT_EQ(take(53.1, 0s).reason, QualityReason::SourceClockAhead);
}

TEST_F(Judging, TakesTheSameMeasurementOnce) {
  EXPECT_EQ(take(53.0, 0s).quality, Quality::Good);
  pass(1s);
  EXPECT_EQ(take(53.0, 1s).reason, QualityReason::Stale);
  EXPECT_EQ(take(53.0, 2s).reason, QualityReason::Stale) << "overtaken";
  EXPECT_EQ(take(53.1, 0s).quality, Quality::Good);
}

// S9: the wall clock and the source's are one, as of a child process, and are set back by an hour.
TEST_F(Judging, BelievesASourceAgainSoonAfterItsClockWasSetBack) {
  take(53.0, 0s);
  now.wall -= 1h;
  const MonoTime set_back = now.mono;
  double value = 53.0;
  do {
    pass(1s);
    value += 0.001;
  } while (take(value, 0s).quality != Quality::Good && now.mono - set_back < 2h);
  EXPECT_LE(now.mono - set_back, 21min);
  EXPECT_TRUE(reading().is_good());
}

// An old value shows even where our own wall clock was set back, so that it looks fresh by it.
TEST_F(Judging, IsNotFooledByAReplayWhenTheWallClockWasSetBack) {
  take(53.0, 0s);
  pass(1h);
  take(53.1, 0s);
  now.wall -= 1h;
  EXPECT_EQ(take(53.0, 0s).reason, QualityReason::Stale);
}

TEST_F(Judging, MarksWhatIsSimulated) {
  take(53.0);
  EXPECT_FALSE(reading().simulated());
  spec.simulated = true;
  take(53.0);
  EXPECT_TRUE(reading().simulated());
}

}  // namespace
}  // namespace brinegate
