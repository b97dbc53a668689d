// SPDX-License-Identifier: Apache-2.0
#include "config/nearest.h"

#include <gtest/gtest.h>

namespace brinegate::config {
namespace {

TEST(Nearest, CountsInsertionsDeletionsReplacementsAndSwaps) {
  EXPECT_EQ(edit_distance("", "abc"), 3U);
  EXPECT_EQ(edit_distance("kitten", "sitting"), 3U);  // the textbook pair of this measure
  EXPECT_EQ(edit_distance("lease", "laese"), 1U);
  EXPECT_EQ(edit_distance("lease", "lease"), 0U);
}

TEST(Nearest, SuggestsOnlyWhatASlipOfTheKeyboardCouldMean) {
  const std::vector<std::string> known{"profile", "capacity", "probe", "in"};
  EXPECT_EQ(nearest("probes", known), "probe");
  EXPECT_EQ(nearest("capasity", known), "capacity");
  EXPECT_EQ(nearest("colour", known), std::nullopt);
  EXPECT_EQ(nearest("link", known), std::nullopt);
  EXPECT_EQ(nearest(std::string(100000, 'a'), known), std::nullopt);
}

TEST(Nearest, ListsWhatIsKnownWhereNothingIsNear) {
  EXPECT_EQ(suggestion("colour", {"in", "as"}), "known are in, as");
  EXPECT_EQ(suggestion("colour", {"in"}), "known is in");
  EXPECT_EQ(suggestion("colour", {}), "there is none yet");
}

}  // namespace
}  // namespace brinegate::config
