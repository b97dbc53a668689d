// SPDX-License-Identifier: Apache-2.0
#include "sim/write_file.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace brinegate::sim {
namespace {

using testing::HasSubstr;

TEST(WriteFile, NamesTheFileThatCannotBeWritten) {
  const auto written = write_file("/nowhere/at/all.html", "text");
  ASSERT_FALSE(written.ok());
  EXPECT_THAT(written.error().message, HasSubstr("/nowhere/at/all.html"));
}

}  // namespace
}  // namespace brinegate::sim
