// SPDX-License-Identifier: Apache-2.0
// Which checks a proof rests on.
#include "rules/check_catalogue.h"

#include <gtest/gtest.h>

namespace brinegate {
namespace {

TEST(CheckCatalogue, NoProofIsGivenOnWhatASimulatorSaid) {
  EXPECT_TRUE(check_row(CheckId::RealSource).proves);
}

}  // namespace
}  // namespace brinegate
