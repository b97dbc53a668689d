// SPDX-License-Identifier: Apache-2.0
#include "rules/chemistry/lot.h"

#include <gtest/gtest.h>

namespace brinegate {
namespace {

using std::chrono::hours;

BatchSalt salt_of(const std::string& lot, std::optional<double> calcium, int version = 1) {
  BatchSalt salt;
  salt.parts.push_back({lot, version, 1.0, std::nullopt});
  if (calcium) {
    salt.composition.emplace();
    (*salt.composition)[Analyte::Calcium] = measured(*calcium, 10.0);
  }
  return salt;
}

TEST(Lot, TwoLotsMixByTheirMass) {
  const BatchSalt both = combined(salt_of("H-2291", 400.0), 100.0, salt_of("H-2304", 440.0), 300.0);
  ASSERT_EQ(both.parts.size(), 2u);
  EXPECT_EQ(both.parts[0].lot, "H-2304");
  EXPECT_DOUBLE_EQ(both.parts[0].share, 0.75);
  EXPECT_DOUBLE_EQ(both.parts[1].share, 0.25);
  EXPECT_DOUBLE_EQ((*both.composition)[Analyte::Calcium]->middle(), 430.0);
  EXPECT_EQ(name_of(both), "H-2304 + H-2291");
}

TEST(Lot, NothingOfOneLeavesTheOther) {
  const BatchSalt one = salt_of("H-2291", 400.0);
  const BatchSalt other = salt_of("H-2304", std::nullopt);
  EXPECT_EQ(combined(one, 100.0, other, 0.0), one);
  EXPECT_EQ(combined(one, 0.0, other, 100.0), other);
  EXPECT_EQ(combined({}, 0.0, other, 100.0), other);
}

TEST(Lot, MoreOfTheSameLotIsKnownNoBetter) {
  const BatchSalt one = salt_of("H-2291", 400.0);
  EXPECT_EQ(combined(one, 100.0, one, 50.0), one);
}

TEST(Lot, ALotCountsOnceInAThirdAddition) {
  const BatchSalt both = combined(salt_of("H-2291", 400.0), 100.0, salt_of("H-2304", 440.0), 100.0);
  const BatchSalt three = combined(both, 200.0, salt_of("H-2304", 440.0), 200.0);
  ASSERT_EQ(three.parts.size(), 2u);
  EXPECT_EQ(three.parts[0].lot, "H-2304");
  EXPECT_DOUBLE_EQ(three.parts[0].share, 0.75);
  EXPECT_DOUBLE_EQ((*three.composition)[Analyte::Calcium]->middle(), 430.0);
}

TEST(Lot, AnotherVersionIsAPartOfItsOwnButHasTheSameName) {
  const BatchSalt both =
      combined(salt_of("H-2291", 400.0, 1), 100.0, salt_of("H-2291", 410.0, 2), 100.0);
  EXPECT_EQ(both.parts.size(), 2u);
  EXPECT_EQ(name_of(both), "H-2291");
}

TEST(Lot, WithAPartThatIsNotOnRecordTheCompositionIsNotKnown) {
  const BatchSalt both =
      combined(salt_of("H-2291", 400.0), 100.0, salt_of("cellar rest", std::nullopt, 0), 1.0);
  EXPECT_EQ(both.parts.size(), 2u);
  EXPECT_FALSE(both.composition);
}

TEST(Lot, TheSoonerExpiryOfALotCounts) {
  BatchSalt early = salt_of("H-2291", 400.0);
  early.parts[0].expires_in = hours(24);
  BatchSalt late = salt_of("H-2291", 400.0);
  late.parts[0].expires_in = hours(48);
  EXPECT_EQ(combined(late, 1.0, early, 1.0).parts[0].expires_in, Duration(hours(24)));
  EXPECT_EQ(combined(early, 1.0, salt_of("H-2291", 400.0), 1.0).parts[0].expires_in,
            Duration(hours(24)));
}

}  // namespace
}  // namespace brinegate
