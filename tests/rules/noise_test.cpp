// SPDX-License-Identifier: Apache-2.0
// What samples tell of their probe: scatter and steps, whatever the water does meanwhile.
#include "rules/noise.h"

#include <cmath>
#include <random>

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include "tests/uniform.h"

namespace brinegate {
namespace {

class Samples {
 public:
  explicit Samples(double sigma, double step = 0.0) : error_(0.0, sigma), step_(step) {}
  double operator()(double truth) {
    const double value = truth + error_(random_);
    return step_ > 0.0 ? std::round(value / step_) * step_ : value;
  }

 private:
  std::mt19937_64 random_{20261125};
  std::normal_distribution<double> error_;
  double step_;
};

// The average remembers 128 samples of 6 sigma²-scaled bends: a relative standard error near 10 %.
RC_GTEST_PROP(NoiseOfSamples, IsFoundWithinAThirdWhateverTheSlope, ()) {
  const double sigma = std::exp(uniform(std::log(0.0005), std::log(0.05)));
  const double slope = uniform(-10.0, 10.0) * sigma;  // a sample
  Samples sample(sigma);
  Noise noise;
  for (int i = 0; i < 600; ++i)
    noise.add(sample(50.0 + slope * i));
  RC_ASSERT(std::abs(noise.standard_deviation() / sigma - 1.0) < 0.35);
}

TEST(NoiseOfSamples, IsNotKnownFromAFew) {
  Samples sample(0.01);
  Noise noise;
  for (int i = 0; i < 10; ++i)
    noise.add(sample(50.0));
  EXPECT_EQ(noise.standard_deviation(), 0.0);
}

TEST(NoiseOfSamples, AStepOfTheWaterAndABubbleHardlyMoveIt) {
  Samples sample(0.01);
  Noise noise;
  for (int i = 0; i < 500; ++i)
    noise.add(sample(50.0));
  const double before = noise.standard_deviation();
  noise.add(sample(48.5));  // a bubble
  noise.add(sample(50.0));
  EXPECT_LT(noise.standard_deviation(), 1.12 * before);
  for (int i = 0; i < 300; ++i)
    noise.add(sample(50.0));
  const double calm = noise.standard_deviation();
  for (int i = 0; i < 3; ++i)
    noise.add(sample(53.0));
  EXPECT_LT(noise.standard_deviation(), 1.12 * calm);
}

TEST(NoiseOfSamples, FollowsAProbeThatBecomesNoisierAndCalmAgain) {
  Noise noise;
  Samples calm(0.001);
  Samples rough(0.02);
  for (int i = 0; i < 500; ++i)
    noise.add(calm(50.0));
  for (int i = 0; i < 500; ++i)
    noise.add(rough(50.0));
  EXPECT_NEAR(noise.standard_deviation(), 0.02, 0.007);
  for (int i = 0; i < 1500; ++i)
    noise.add(calm(50.0));
  EXPECT_NEAR(noise.standard_deviation(), 0.001, 0.0005);
}

TEST(NoiseOfSamples, AwakesFromAStillProbe) {
  Noise noise;
  for (int i = 0; i < 300; ++i)
    noise.add(50.0);
  EXPECT_EQ(noise.standard_deviation(), 0.0);
  Samples sample(0.008, 0.01);
  for (int i = 0; i < 600; ++i)
    noise.add(sample(50.0));
  EXPECT_NEAR(noise.standard_deviation(), std::hypot(0.008, 0.01 / std::sqrt(12.0)), 0.003);
}

RC_GTEST_PROP(StepOfSamples, IsFoundWhereTheyCountInSteps, ()) {
  const double step = std::exp(uniform(std::log(0.001), std::log(0.1)));
  Samples sample(uniform(0.3, 4.0) * step, step);
  Noise noise;
  for (int i = 0; i < 400; ++i)
    noise.add(static_cast<float>(sample(50.0 + 0.02 * step * i)));  // as a register carries it
  RC_ASSERT(std::abs(noise.resolution() / step - 1.0) < 0.1);
}

RC_GTEST_PROP(StepOfSamples, IsNotSeenInAContinuousScatter, ()) {
  const double sigma = std::exp(uniform(std::log(0.001), std::log(0.1)));
  Samples sample(sigma);
  Noise noise;
  for (int i = 0; i < 1000; ++i)
    noise.add(sample(50.0));
  RC_ASSERT(noise.resolution() < 0.1 * sigma);
}

TEST(StepOfSamples, OneOddSmallStepIsForgotten) {
  Samples sample(0.02, 0.01);
  Noise noise;
  for (int i = 0; i < 50; ++i)
    noise.add(sample(50.0));
  noise.add(50.0003);
  for (int i = 0; i < 300; ++i)
    noise.add(sample(50.0));
  EXPECT_NEAR(noise.resolution(), 0.01, 1e-6);
}

}  // namespace
}  // namespace brinegate
