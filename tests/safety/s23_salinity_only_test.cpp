// SPDX-License-Identifier: Apache-2.0
// S23: conductivity proves salinity and not composition, and every proof says so.
#include <gtest/gtest.h>

#include "tests/safety/bench_engine.h"

namespace brinegate::daemon {
namespace {

TEST(S23, AProvenBatchSaysThatItsCompositionRestsOnTheAssay) {
  BenchEngine bench;
  bench.prove();
  const nlohmann::json told = bench.station();
  ASSERT_EQ(told.at("phase"), "proven");
  EXPECT_EQ(told.at("batch").at("proof").at("says"), "salinity proven, composition by assay");
}

}  // namespace
}  // namespace brinegate::daemon
