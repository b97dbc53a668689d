// SPDX-License-Identifier: Apache-2.0
#include "config/page/svg.h"

#include <cmath>
#include <limits>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "config/page/html_page.h"
#include "tests/balanced_xml.h"

namespace brinegate::page {
namespace {

using testing::HasSubstr;
using testing::Not;

constexpr double nowhere = std::numeric_limits<double>::quiet_NaN();

TEST(Svg, IsWellFormedWhateverTheTextSays) {
  Svg svg(100, 50, "a < b & \"c\"");
  svg.line({0, 0}, {1, 1}, "grid");
  svg.clip({0, 0}, {50, 50});
  svg.path({{0, 0}, {1, 2}}, "first");
  svg.area({{0, 0}, {1, 2}, {2, 0}}, "band");
  svg.unclip();
  svg.rectangle({5, 5}, {1, 1}, "tolerance");
  svg.circle({1, 1}, 2, "first");
  svg.text({0, 0}, "<script> & more", "tick", Anchor::End);
  EXPECT_TRUE(is_balanced_xml(svg.str()));
  EXPECT_TRUE(
      is_balanced_xml(html_page("a & b", html_figure(svg, "1 < 2") + html_preformatted("<&>"))));
  EXPECT_THAT(svg.str(), Not(HasSubstr("<script>")));
}

TEST(Svg, APointThatIsNotFiniteInterruptsTheLine) {
  Svg svg(10, 10, "");
  svg.path({{0, 0}, {1, 1}, {2, nowhere}, {3, 3}, {4, 4}}, "first");
  EXPECT_THAT(svg.str(), HasSubstr("d=\"M0.0 0.0L1.0 1.0M3.0 3.0L4.0 4.0\""));
  Svg none(10, 10, "");
  none.path({{nowhere, 0}}, "first");
  EXPECT_THAT(none.str(), Not(HasSubstr("<path")));
}

TEST(Ticks, AreRoundAndWithinTheAxis) {
  EXPECT_EQ(round_ticks(0.0, 10.0, 5), (std::vector<double>{0, 2, 4, 6, 8, 10}));
  EXPECT_EQ(round_ticks(32.5, 37.4, 5), (std::vector<double>{33, 34, 35, 36, 37}));
  EXPECT_FALSE(std::signbit(round_ticks(0.0, 1.0, 4).front()));
  const auto narrow = logarithmic_ticks(0.5, 10.0);
  EXPECT_EQ(narrow.size(), 5u);  // 0.5, 1, 2, 5, 10
  EXPECT_DOUBLE_EQ(narrow.front(), 0.5);
  EXPECT_DOUBLE_EQ(narrow.back(), 10.0);
  EXPECT_EQ(logarithmic_ticks(1e-5, 1.0).size(), 6u);  // decades alone
}

TEST(Plot, PutsValuesWhereTheAxesSay) {
  Svg svg(200, 200, "");
  const Plot plot(svg, {10, 20}, {110, 120}, Axis{0, 10, false, "", nullptr, {}},
                  Axis{0.01, 1, true, "", nullptr, {}});
  EXPECT_DOUBLE_EQ(plot.at(0, 1).x, 10);
  EXPECT_DOUBLE_EQ(plot.at(0, 1).y, 20);
  EXPECT_DOUBLE_EQ(plot.at(5, 0.1).x, 60);
  EXPECT_DOUBLE_EQ(plot.at(5, 0.1).y, 70);
}

}  // namespace
}  // namespace brinegate::page
