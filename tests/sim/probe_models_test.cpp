// SPDX-License-Identifier: Apache-2.0
// How a probe shows the truth, and that each fault does what it says.
#include "sim/probe_models.h"

#include <cmath>
#include <set>

#include <gtest/gtest.h>

namespace brinegate::sim {
namespace {

using namespace std::chrono_literals;

constexpr double true_value = 53.0;

struct Spread {
  double mean;
  double deviation;
};

Spread spread(ProbeModel& probe, Random& random, int samples = 2000) {
  double sum = 0.0;
  double squares = 0.0;
  for (int i = 0; i < samples; ++i) {
    probe.step(1s, true_value, random);
    const double shown = probe.shown().value_or(0.0);
    sum += shown;
    squares += shown * shown;
  }
  const double mean = sum / samples;
  return {mean, std::sqrt(std::max(0.0, squares / samples - mean * mean))};
}

ProbeTraits steady() {
  ProbeTraits traits = conductivity_traits();
  traits.wander = 0.0;
  traits.bubbles_per_hour = 0.0;
  return traits;
}

TEST(ProbeModel, FollowsAStepWithItsLag) {
  ProbeTraits traits;
  traits.lag = 8s;
  ProbeModel probe(traits, 10.0);
  Random random(1);
  probe.step(8s, 20.0, random);
  EXPECT_NEAR(probe.shown().value(), 20.0 - 10.0 * std::exp(-1.0), 1e-9);
}

TEST(ProbeModel, ShowsItsGainOffsetNoiseAndResolution) {
  ProbeTraits traits;
  traits.gain = 1.02;
  traits.offset = 0.5;
  traits.noise = 0.1;
  traits.resolution = 0.01;
  ProbeModel probe(traits, true_value);
  Random random(2);
  const Spread shown = spread(probe, random);
  // Mean of 2000 values: 0.1 / sqrt(2000) = 0.0022, and five times that.
  EXPECT_NEAR(shown.mean, true_value * 1.02 + 0.5, 0.011);
  EXPECT_NEAR(shown.deviation, 0.1, 0.01);
  const double steps = probe.shown().value() / 0.01;
  EXPECT_NEAR(steps, std::round(steps), 1e-6);
}

TEST(ProbeModel, WandersSlowlyByItsShare) {
  ProbeTraits traits;
  traits.wander = 0.01;
  traits.wander_time = 30s;
  ProbeModel probe(traits, true_value);
  Random random(3);
  EXPECT_NEAR(spread(probe, random, 20000).deviation, 0.53, 0.1);
  const double before = probe.shown().value();
  probe.step(1ms, true_value, random);
  EXPECT_NEAR(probe.shown().value(), before, 0.05);
}

TEST(ProbeModel, ShowsBubblesAsShortLowSpikes) {
  ProbeTraits traits = steady();
  traits.bubbles_per_hour = 60.0;
  ProbeModel probe(traits, true_value);
  Random random(4);
  int low = 0;
  int longest = 0;
  int run = 0;
  for (int i = 0; i < 36000; ++i) {
    probe.step(1s, true_value, random);
    const double shown = probe.shown().value();
    EXPECT_LT(shown, true_value + 0.1);
    EXPECT_GT(shown, true_value * (1.0 - traits.bubble_depth) - 0.1);
    run = shown < true_value - 0.5 ? run + 1 : 0;
    low += run > 0 ? 1 : 0;
    longest = std::max(longest, run);
  }
  EXPECT_GT(low, 600);
  EXPECT_LT(low, 3000);
  EXPECT_LT(longest, 30);
}

TEST(ProbeModel, RepeatsItselfFromASeed) {
  ProbeModel a(conductivity_traits(), true_value);
  ProbeModel b(conductivity_traits(), true_value);
  Random first(5);
  Random second(5);
  for (int i = 0; i < 1000; ++i) {
    a.step(1s, true_value, first);
    b.step(1s, true_value, second);
    ASSERT_EQ(a.shown(), b.shown());
  }
}

TEST(ProbeModel, NeverShowsExactlyZeroInPurifiedWater) {
  const Reservoir reservoir(ReservoirSpec{}, Water{Litres(100.0), PracticalSalinity(0.0)},
                            Celsius(20.0));
  const double truth = true_conductivity(reservoir, Place::Bulk).value();
  ProbeModel probe(conductivity_traits(), truth);
  Random random(6);
  for (int i = 0; i < 10000; ++i) {
    probe.step(1s, truth, random);
    ASSERT_GT(probe.shown().value(), 0.0);
  }
}

TEST(ProbeFault, SilentShowsNothingAndComesBack) {
  ProbeModel probe(steady(), true_value);
  probe.set_fault(ProbeFault::Silent);
  EXPECT_FALSE(probe.shown().has_value());
  probe.set_fault(ProbeFault::None);
  EXPECT_TRUE(probe.shown().has_value());
}

TEST(ProbeFault, FlatStaysWhileTheTruthMoves) {
  ProbeModel probe(steady(), true_value);
  Random random(7);
  probe.step(1s, true_value, random);
  const double before = probe.shown().value();
  probe.set_fault(ProbeFault::Flat);
  for (int i = 0; i < 100; ++i)
    probe.step(1s, 20.0, random);
  EXPECT_EQ(probe.shown().value(), before);
  probe.set_fault(ProbeFault::None);
  probe.step(1s, 20.0, random);
  EXPECT_NEAR(probe.shown().value(), 20.0, 0.1);
}

TEST(ProbeFault, InAirShowsNextToNothing) {
  ProbeModel probe(steady(), true_value);
  Random random(8);
  probe.set_fault(ProbeFault::InAir);
  const Spread shown = spread(probe, random);
  EXPECT_NEAR(shown.mean, steady().in_air, 0.001);
}

TEST(ProbeFault, LiesByItsFactorUntilItEnds) {
  ProbeModel probe(steady(), true_value);
  Random random(9);
  probe.set_fault(ProbeFault::Lying, 0.9);
  EXPECT_NEAR(spread(probe, random).mean, 0.9 * true_value, 0.01);
  probe.set_fault(ProbeFault::None);
  EXPECT_NEAR(spread(probe, random).mean, true_value, 0.01);
}

TEST(ProbeFault, NoisyShowsTheTruthOnAverageOnly) {
  ProbeModel probe(steady(), true_value);
  Random random(10);
  const double honest = spread(probe, random).deviation;
  probe.set_fault(ProbeFault::Noisy);
  const Spread shown = spread(probe, random);
  EXPECT_GT(shown.deviation, 20.0 * honest);
  EXPECT_NEAR(shown.mean, true_value, 0.1);
}

}  // namespace
}  // namespace brinegate::sim
