// SPDX-License-Identifier: Apache-2.0
// Two points tell a right register map from one that is right by chance. The sizes are common
// practice, no source.
#include "rules/verification.h"

#include <limits>

#include <gtest/gtest.h>

namespace brinegate {
namespace {

class VerifyingACell : public testing::Test {
 public:
  VerifyingACell() {
    probe.measures = Measures::Conductivity;
    probe.on_register_map = true;
    probe.map_entry = "input 0";
  }
  bool take(double shown, double read) { return take_point(probe, {shown, read, {}}, points); }
  [[nodiscard]] bool verified() const { return is_verified(probe, points); }

  ProbeSpec probe;
  Verification points;
};

TEST_F(VerifyingACell, AsksForTwoPoints) {
  EXPECT_TRUE(take(53.1, 53.05));
  EXPECT_FALSE(verified());
  EXPECT_TRUE(take(53.1, 53.10));
  EXPECT_FALSE(verified()) << "the same point again";
  EXPECT_TRUE(take(0.1, 0.05));
  EXPECT_TRUE(verified());
}

TEST_F(VerifyingACell, KeepsTheTwoThatAreFarthestApart) {
  for (const double shown : {53.0, 48.0, 0.0, 20.0})
    EXPECT_TRUE(take(shown, shown));
  ASSERT_EQ(points.points.size(), 2U);
  EXPECT_EQ(points.points[0].shown, 0.0);
  EXPECT_EQ(points.points[1].shown, 53.0);
}

TEST_F(VerifyingACell, ForgivesTheResolutionOfADisplayAndNoMore) {
  EXPECT_TRUE(take(53.0, 53.0 + 1.05));
  EXPECT_FALSE(take(53.0, 53.0 + 1.07)) << "2 %";
  EXPECT_TRUE(take(0.0, 0.09));
  EXPECT_FALSE(take(0.0, 0.11));
  EXPECT_FALSE(take(53.0, std::numeric_limits<double>::quiet_NaN()));
}

TEST_F(VerifyingACell, ForgetsEverythingAtAPointThatDisagrees) {
  take(53.0, 53.0);
  take(0.0, 0.0);
  ASSERT_TRUE(verified());
  EXPECT_FALSE(take(20.0, 53.0));
  EXPECT_FALSE(verified());
  EXPECT_TRUE(points.points.empty());
}

TEST_F(VerifyingACell, BelongsToTheMapEntryOfItsPoints) {
  take(53.0, 53.0);
  take(0.0, 0.0);
  probe.map_entry = "input 2";
  EXPECT_FALSE(verified());
  take(0.0, 0.0);
  EXPECT_FALSE(verified()) << "the other point was another entry's";
}

// Of a large reservoir 5 L are less than its scale can tell.
TEST(Verifying, AsksForPointsWellBeyondWhatItForgives) {
  for (const Measures measures :
       {Measures::Conductivity, Measures::Salinity, Measures::SpecificGravity,
        Measures::Temperature, Measures::Level, Measures::Flow})
    for (const double higher : {1.0, 30.0, 2000.0})
      EXPECT_GE(least_distance(measures, higher), 5.0 * agreement(measures, higher));
  EXPECT_DOUBLE_EQ(least_distance(Measures::Level, 2000.0), 200.0);
  EXPECT_DOUBLE_EQ(least_distance(Measures::Leak, 1.0), 1.0);
}

}  // namespace
}  // namespace brinegate
