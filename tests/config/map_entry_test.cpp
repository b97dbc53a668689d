// SPDX-License-Identifier: Apache-2.0
// What of a probe's entry makes its number mean something else, and which entries need verifying.
#include <string>
#include <utility>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "config/load.h"
#include "rules/verification.h"
#include "tests/config/cellar.h"

namespace brinegate::config {
namespace {

using ::testing::HasSubstr;

std::string entry_of_cell(std::string_view from = "", std::string_view to = "") {
  const Loaded loaded =
      load_text(from.empty() ? std::string(cellar) : with(cellar, from, to), "cellar.toml");
  EXPECT_TRUE(loaded.site);
  return loaded.site ? loaded.site->stations[0].spec.probes[0].map_entry : "";
}

TEST(MapEntry, ChangesWithWhateverMakesTheNumberMeanSomethingElse) {
  const std::string before = entry_of_cell();
  EXPECT_THAT(before, HasSubstr("192.0.2.10:1502 unit 1"));
  const std::pair<std::string_view, std::string_view> edits[]{
      {"192.0.2.10:1502", "192.0.2.11:1502"},
      {"unit = 1, input = 10", "unit = 3, input = 10"},
      {"input = 10", "input = 12"},
      {"input = 10", "holding = 10"},
      {"order = \"CDAB\"", "order = \"ABCD\""},
      {"as = \"float32\"", "as = \"int32\""},
      {"in = \"uS/cm\"", "in = \"mS/cm\""},
      {"in = \"uS/cm\"", "in = \"uS/cm\", scale = 1.01"},
      {"in = \"uS/cm\"", "in = \"uS/cm\", offset = 1"},
      {"measures = \"conductivity\"", "measures = \"compensated-conductivity\""}};
  for (const auto& [from, to] : edits)
    EXPECT_NE(entry_of_cell(from, to), before) << to;
}

TEST(MapEntry, StaysWithWhatDoesNot) {
  const std::string before = entry_of_cell();
  EXPECT_EQ(entry_of_cell("timeout = \"300 ms\"", "timeout = \"200 ms\""), before);
  EXPECT_EQ(entry_of_cell("temperature_from = \"bath\"",
                          "temperature_from = \"bath\"\nspike = \"3 mS/cm\""),
            before);
}

TEST(MapEntry, OfAStrappingTableHoldsItsRows) {
  const auto entry = [](const std::string& text) {
    return load_text(text, "cellar.toml").site.value().stations[0].spec.probes[2].map_entry;
  };
  EXPECT_NE(entry(with(cellar, "[10, 22.4]", "[10, 22.5]")), entry(std::string(cellar)));
}

TEST(MapEntry, TellsWhatIsToBeVerified) {
  const auto site = load_text(cellar, "cellar.toml").site.value();
  std::vector<std::string> names;
  for (const ProbeSpec& probe : site.stations[0].spec.probes)
    if (needs_verification(probe))
      names.push_back(probe.name);
  EXPECT_THAT(names, testing::ElementsAre("zz_cell", "height", "floor"));
}

}  // namespace
}  // namespace brinegate::config
