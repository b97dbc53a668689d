// SPDX-License-Identifier: Apache-2.0
// One batch of a campaign run again and looked at: what the seed drew, what happened when, and the
// course of truth, instruments and forecast.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "rules/time.h"
#include "rules/units.h"
#include "sim/campaign.h"
#include "sim/virtual_batch_plan.h"

namespace brinegate::sim {

struct CoursePoint {
  Duration at{0};
  PracticalSalinity truth;        // of the bulk
  PracticalSalinity final_truth;  // all dissolved, all mixed
  std::vector<std::optional<PracticalSalinity>> cells;
  std::optional<Uncertain<PracticalSalinity>> forecast;  // of the final salinity, by the course
  std::optional<Uncertain<PracticalSalinity>> final;     // ... with all the instruments leave open
  Celsius temperature;
  std::optional<Celsius> shown_temperature;
};

struct CourseMark {
  Duration at{0};
  std::string text;
};

struct Course {
  VirtualBatchPlan plan;
  BatchFinding finding;
  std::vector<CoursePoint> points;  // a quarter of a minute apart, or as the samples come
  std::vector<CourseMark> marks;    // by time
  std::vector<Pause> permitted;     // every check let the pump run
};

Course record_course(std::uint64_t seed, BatchKind kind, ErrorLaw errors);

// All that the seed drew, a line each.
std::string plan_text(const VirtualBatchPlan& plan);
// What happened when, and what was found.
std::string course_text(const Course& course);

// "1:07", hours and minutes.
std::string clock_text(Duration since_begin);

}  // namespace brinegate::sim
