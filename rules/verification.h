// SPDX-License-Identifier: Apache-2.0
// S22: a wrong register, byte order, scale or unit of a register map looks like water. So what a
// probe reads over one is once held against what its own display, or a standard, shows, at two
// points: between them they tell a right map from one that is right by chance.
#pragma once

#include <string>
#include <vector>

#include "rules/probe.h"
#include "rules/time.h"

namespace brinegate {

// Both in the probe's unit; `read` before any calibration. A contact has 1 and 0.
struct VerifiedPoint {
  double shown = 0.0;
  double read = 0.0;
  WallTime at;

  bool operator==(const VerifiedPoint&) const = default;
};

struct Verification {
  std::string map_entry;              // of the probe, when the points were taken
  std::vector<VerifiedPoint> points;  // that agree, rising: one, or the two farthest apart

  bool operator==(const Verification&) const = default;
};

// Not asked of a simulated probe and of one without a register map; nor of a pump's read-back,
// which every run of the pump puts to the test (S5).
bool needs_verification(const ProbeSpec& probe);

// How far what is read may lie from what is shown: the resolution of a display and the moment
// between looking and telling (common practice, no source).
double agreement(Measures measures, double shown);

// How far the two points must lie apart: well beyond what agreement forgives.
double least_distance(Measures measures, double higher);

bool is_verified(const ProbeSpec& probe, const Verification& verification);

// Adds the point where it agrees. One that does not voids what was there: false.
bool take_point(const ProbeSpec& probe, const VerifiedPoint& point, Verification& verification);

}  // namespace brinegate
