// SPDX-License-Identifier: Apache-2.0
// What sea water promises beyond the tables: inverses, continuity, monotony, quality, the edges.
#include "rules/seawater.h"

#include <cmath>
#include <limits>

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include "tests/uniform.h"

namespace brinegate {
namespace {

RC_GTEST_PROP(Seawater, ConductivityAndSalinityAreInverseFromFreshToSixty, ()) {
  const PracticalSalinity salinity(uniform(0.0, 60.0));
  const Celsius temperature(uniform(-5.0, 60.0));
  const MilliSiemensPerCm c = conductivity(salinity, temperature);
  RC_ASSERT(std::abs((practical_salinity(c, temperature) - salinity).value()) < 1e-11);
}

RC_GTEST_PROP(Seawater, GravityAndSalinityAreInverse, ()) {
  const PracticalSalinity salinity(uniform(0.0, 60.0));
  const GravityTemperatures t{Celsius(uniform(0.0, 40.0)), Celsius(uniform(0.0, 40.0))};
  const double gravity = specific_gravity(salinity, t);
  RC_ASSERT(std::abs((salinity_of_gravity(gravity, t) - salinity).value()) < 1e-9);
}

RC_GTEST_PROP(Seawater, GramsPerLitreAndSalinityAreInverse, ()) {
  const PracticalSalinity salinity(uniform(0.0, 60.0));
  const Celsius temperature(uniform(0.0, 40.0));
  const double grams = salt_grams_per_litre(salinity, temperature);
  RC_ASSERT(std::abs((salinity_of_grams_per_litre(grams, temperature) - salinity).value()) < 1e-10);
}

RC_GTEST_PROP(Seawater, MoreConductivityIsMoreSalinityAndWarmerIsLess, ()) {
  const MilliSiemensPerCm c(uniform(0.01, 119.0));
  const Celsius t(uniform(-5.0, 59.0));
  RC_ASSERT(practical_salinity(c + MilliSiemensPerCm(0.5), t) > practical_salinity(c, t));
  RC_ASSERT(practical_salinity(c, t + Celsius(0.5)) < practical_salinity(c, t));
}

// The oracle is the function itself: a central difference of it.
RC_GTEST_PROP(Seawater, SensitivityIsTheSlope, ()) {
  const MilliSiemensPerCm c(uniform(0.5, 119.0));
  const Celsius t(uniform(-4.0, 59.0));
  const double distance_to_seam = std::abs(practical_salinity(c, t).value() - 2.0);
  RC_PRE(distance_to_seam > 0.01);  // where the slope has a step
  const double h = 1e-4;
  const auto by_c = practical_salinity(c + MilliSiemensPerCm(h), t) -
                    practical_salinity(c - MilliSiemensPerCm(h), t);
  const auto by_t = practical_salinity(c, t + Celsius(h)) - practical_salinity(c, t - Celsius(h));
  const SalinitySensitivity s = salinity_sensitivity(c, t);
  RC_ASSERT(std::abs(by_c.value() / (2 * h) - s.per_millisiemens_per_cm) < 1e-6);
  RC_ASSERT(std::abs(by_t.value() / (2 * h) - s.per_celsius) < 1e-6);
}

TEST(Seawater, TheTwoSalinityEquationsMeetAtTwo) {
  for (double t = -5.0; t <= 60.0; t += 0.5) {
    const MilliSiemensPerCm seam = conductivity(PracticalSalinity(2.0), Celsius(t));
    const MilliSiemensPerCm below = seam - MilliSiemensPerCm(1e-9);
    const MilliSiemensPerCm above = seam + MilliSiemensPerCm(1e-9);
    EXPECT_NEAR(practical_salinity(below, Celsius(t)).value(),
                practical_salinity(above, Celsius(t)).value(), 1e-8)
        << t << " °C";
  }
}

TEST(Seawater, NoConductivityIsNoSalinityAndHarmless) {
  const Celsius t(25.0);
  EXPECT_EQ(practical_salinity(MilliSiemensPerCm(0.0), t), PracticalSalinity(0.0));
  EXPECT_EQ(practical_salinity(MilliSiemensPerCm(0.0005), t), PracticalSalinity(0.0));
  const SalinitySensitivity s = salinity_sensitivity(MilliSiemensPerCm(0.0), t);
  EXPECT_TRUE(std::isfinite(s.per_millisiemens_per_cm));
  EXPECT_GT(s.per_millisiemens_per_cm, 0.0);
  EXPECT_TRUE(std::isfinite(s.per_celsius));
}

TEST(Seawater, QualityIsGoodOnlyWhereTheEquationsAreDefined) {
  const MilliSiemensPerCm sea(53.0);
  EXPECT_EQ(salinity_quality(sea, Celsius(25.0)), Quality::Good);
  EXPECT_EQ(salinity_quality(MilliSiemensPerCm(0.0), Celsius(25.0)), Quality::Good);
  EXPECT_EQ(salinity_quality(sea, Celsius(35.0)), Quality::Good);
  EXPECT_EQ(salinity_quality(sea, Celsius(35.01)), Quality::Uncertain);
  EXPECT_EQ(salinity_quality(MilliSiemensPerCm(28.0), Celsius(-2.0)), Quality::Good);
  EXPECT_EQ(salinity_quality(MilliSiemensPerCm(28.0), Celsius(-2.01)), Quality::Uncertain);
  const MilliSiemensPerCm forty_two = conductivity(PracticalSalinity(42.0), Celsius(25.0));
  EXPECT_EQ(salinity_quality(forty_two - MilliSiemensPerCm(0.001), Celsius(25.0)), Quality::Good);
  EXPECT_EQ(salinity_quality(forty_two + MilliSiemensPerCm(0.001), Celsius(25.0)),
            Quality::Uncertain);
}

TEST(Seawater, NonsenseIsBad) {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  const double infinite = std::numeric_limits<double>::infinity();
  const Celsius t(25.0);
  for (const double c : {nan, infinite, -infinite, -1e-9, 120.001})
    EXPECT_EQ(salinity_quality(MilliSiemensPerCm(c), t), Quality::Bad) << c;
  for (const double bad : {nan, infinite, -infinite, -5.001, 60.001})
    EXPECT_EQ(salinity_quality(MilliSiemensPerCm(53.0), Celsius(bad)), Quality::Bad) << bad;
  EXPECT_EQ(salinity_quality(MilliSiemensPerCm(120.0), Celsius(60.0)), Quality::Uncertain);
}

// A refractometer or hydrometer that reads a little under fresh water, or nonsense.
TEST(Seawater, GravityBelowFreshWaterIsNegativeSalinityAndNonsenseStaysFinite) {
  const GravityTemperatures t;
  EXPECT_NEAR(salinity_of_gravity(1.0, t).value(), 0.0, 1e-9);
  EXPECT_LT(salinity_of_gravity(0.9995, t).value(), -0.5);
  EXPECT_LT(salinity_of_gravity(0.0, t).value(), -50.0);
  EXPECT_GT(salinity_of_gravity(1e9, t).value(), 100.0);
}

// SP 35 is by definition 35.16504 g/kg (Millero et al. 2008).
TEST(Seawater, ReferenceSalinityOfThirtyFiveIsItsDefinition) {
  EXPECT_DOUBLE_EQ(reference_salinity(PracticalSalinity(35.0)).value(), 35.16504);
  EXPECT_DOUBLE_EQ(practical_salinity(ReferenceSalinity(35.16504)).value(), 35.0);
}

}  // namespace
}  // namespace brinegate
