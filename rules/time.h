// SPDX-License-Identifier: Apache-2.0
// Time is an argument. Decisions take monotonic time; wall time is for the record and for people.
// The two are different types that do not convert, and neither timeline has a now(): only the shell
// and the drivers read clocks.
#pragma once

#include <chrono>
#include <cstdint>

namespace brinegate {

using Duration = std::chrono::nanoseconds;

struct MonotonicTimeline {
  using duration = Duration;
  using rep = duration::rep;
  using period = duration::period;
  using time_point = std::chrono::time_point<MonotonicTimeline>;
  static constexpr bool is_steady = true;
};

struct WallTimeline {
  using duration = Duration;
  using rep = duration::rep;
  using period = duration::period;
  using time_point = std::chrono::time_point<WallTimeline>;
  static constexpr bool is_steady = false;
};

// Nanoseconds since an arbitrary start that never steps (CLOCK_MONOTONIC).
using MonoTime = MonotonicTimeline::time_point;
// Nanoseconds since 1970-01-01T00:00:00Z; may step.
using WallTime = WallTimeline::time_point;

// 2020-01-01: a wall clock that shows less has not been set since its computer started.
constexpr WallTime earliest_believed{std::chrono::seconds(1'577'836'800)};

// The one "now" of one turn of the loop.
struct Instant {
  MonoTime mono;
  WallTime wall;
};

constexpr double seconds(Duration d) {
  return std::chrono::duration<double>(d).count();
}

constexpr Duration from_seconds(double s) {
  return std::chrono::duration_cast<Duration>(std::chrono::duration<double>(s));
}

}  // namespace brinegate
