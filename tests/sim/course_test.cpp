// SPDX-License-Identifier: Apache-2.0
// One batch replayed is the batch of the campaign, told and drawn.
#include "sim/course.h"

#include <algorithm>
#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "sim/course_drawing.h"
#include "tests/balanced_xml.h"

namespace brinegate::sim {
namespace {

using testing::HasSubstr;

const CourseMark* mark_with(const Course& course, const std::string& text) {
  const auto found = std::ranges::find_if(course.marks, [&](const CourseMark& mark) {
    return mark.text.find(text) != std::string::npos;
  });
  return found == course.marks.end() ? nullptr : &*found;
}

TEST(Course, FindsWhatTheCampaignFound) {
  const Course course = record_course(2, BatchKind::Good, ErrorLaw::Within);
  const BatchFinding found = find(2, BatchKind::Good, ErrorLaw::Within);
  ASSERT_TRUE(found.proven.has_value());
  EXPECT_EQ(course.finding.proven, found.proven);
  EXPECT_EQ(course.finding.simulated, found.simulated);
  const CourseMark* const proven = mark_with(course, "proven as");
  ASSERT_NE(proven, nullptr);
  EXPECT_EQ(proven->at, *found.proven);
  ASSERT_FALSE(course.permitted.empty());
  EXPECT_GE(course.permitted.front().from, *found.proven);
}

TEST(Course, IsTheWaters) {
  const Course course = record_course(2, BatchKind::Good, ErrorLaw::Within);
  ASSERT_GT(course.points.size(), 100u);
  EXPECT_LT(course.points.front().truth.value(), 0.5);
  const CoursePoint& last = course.points.back();
  EXPECT_NEAR(last.truth.value(), course.finding.final_truth.value(), 0.2);
  ASSERT_EQ(last.cells.size(), course.plan.cells.size());
  ASSERT_TRUE(last.cells.front() && last.forecast && last.final);
  EXPECT_NEAR(last.cells.front()->value(), last.truth.value(), 1.0);
  EXPECT_LE(last.forecast->standard_uncertainty, last.final->standard_uncertainty);
  EXPECT_TRUE(std::ranges::is_sorted(course.marks, {}, &CourseMark::at));
}

TEST(Course, TellsOfACorrection) {
  const Course course = record_course(3, BatchKind::UnderSalted, ErrorLaw::Within);
  ASSERT_TRUE(course.finding.corrected);
  const CourseMark* const rejected = mark_with(course, "rejected");
  const CourseMark* const corrected = mark_with(course, "corrected as advised");
  ASSERT_TRUE(rejected != nullptr && corrected != nullptr);
  EXPECT_LE(rejected->at, corrected->at);
  EXPECT_EQ(clock_text(std::chrono::minutes(67)), "1:07");
}

// What is drawn of a plan must be told: changing it changes the text.
TEST(PlanText, TellsWhatWasDrawn) {
  VirtualBatchPlan plan = draw_plan(1, BatchKind::OnlyCellLying);
  plan.pauses = {{std::chrono::minutes(30), std::chrono::minutes(40)}};
  plan.gaps = {{std::chrono::minutes(50), std::chrono::minutes(51)}};
  plan.heater_fails = std::chrono::minutes(61);
  LateAddition late;
  late.at = std::chrono::minutes(62);
  late.water = Litres(3.5);
  plan.late = {late};
  const std::string text = plan_text(plan);
  EXPECT_THAT(text, HasSubstr("seed 1, kind only-cell-lying"));
  EXPECT_THAT(text, HasSubstr("lies: shows"));
  EXPECT_THAT(text, HasSubstr("0:30  circulation stands for 10 min"));
  EXPECT_THAT(text, HasSubstr("0:50  no samples for 60 s"));
  EXPECT_THAT(text, HasSubstr("1:01  the heater fails"));
  EXPECT_THAT(text, HasSubstr("1:02  3.50 L of fresh water added, nobody says so"));
}

TEST(CourseDrawing, IsAWellFormedPage) {
  // Two cells, pauses and a gap: everything there is to draw.
  const Course course = record_course(7, BatchKind::Anything, ErrorLaw::Within);
  const std::string html = course_html(course);
  EXPECT_TRUE(is_balanced_xml(html));
  for (const auto* style : {"\"band\"", "\"inner\"", "\"truth\"", "\"tolerance\"", "\"permitted\"",
                            "\"faint\"", "\"future\""})
    EXPECT_THAT(html, HasSubstr(style));
  EXPECT_EQ(html.find("nan"), std::string::npos);
}

}  // namespace
}  // namespace brinegate::sim
