// SPDX-License-Identifier: Apache-2.0
// A calibration brings the probe to its standard or changes nothing.
#include "rules/calibration.h"

#include <limits>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace brinegate {
namespace {

using testing::HasSubstr;

ProbeSpec probe(Measures measures) {
  ProbeSpec spec;
  spec.name = "cell_a";
  spec.measures = measures;
  spec.limits = default_sample_limits(measures, 250.0);
  return spec;
}

TEST(Calibration, ShowsTheStandardAfterwards) {
  const auto conductivity = one_point_calibration(probe(Measures::Conductivity), 50.0, 53.07, {});
  ASSERT_TRUE(conductivity.ok());
  EXPECT_NEAR(calibrated(*conductivity, 50.0), 53.07, 1e-12);
  EXPECT_EQ(conductivity->offset, 0.0);
  const auto temperature = one_point_calibration(probe(Measures::Temperature), 24.4, 25.0, {});
  ASSERT_TRUE(temperature.ok());
  EXPECT_NEAR(calibrated(*temperature, 24.4), 25.0, 1e-12);
  EXPECT_EQ(temperature->slope, 1.0);
}

TEST(Calibration, RefusesWhatCannotBe) {
  const ProbeSpec cell = probe(Measures::Conductivity);
  const ProbeSpec thermometer = probe(Measures::Temperature);
  EXPECT_TRUE(one_point_calibration(cell, 41.0, 53.07, {}).ok());
  EXPECT_THAT(one_point_calibration(cell, 40.0, 53.07, {}).error().message, HasSubstr("30 %"));
  EXPECT_THAT(one_point_calibration(cell, 0.0, 53.07, {}).error().message, HasSubstr("nothing"));
  EXPECT_TRUE(one_point_calibration(thermometer, 21.2, 25.0, {}).ok());
  EXPECT_THAT(one_point_calibration(thermometer, 21.0, 25.0, {}).error().message,
              HasSubstr("tenth of its range"));
  EXPECT_THAT(one_point_calibration(probe(Measures::Leak), 0.0, 1.0, {}).error().message,
              HasSubstr("contact"));
}

TEST(Calibration, RefusesWhatIsNotANumber) {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  for (const Measures measures : {Measures::Conductivity, Measures::SpecificGravity}) {
    EXPECT_FALSE(one_point_calibration(probe(measures), 1.0, nan, {}).ok());
    EXPECT_FALSE(one_point_calibration(probe(measures), nan, 1.0, {}).ok());
  }
}

}  // namespace
}  // namespace brinegate
