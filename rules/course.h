// SPDX-License-Identifier: Apache-2.0
// The course of a measured quantity over a sliding window: its slope and how sure that is. Samples
// are averaged into equal slots of the window, so that the cost is the same for every sample rate
// and a short disturbance weighs little. Every addition to the water starts the course afresh.
#pragma once

#include <array>
#include <cstdint>
#include <optional>

#include "rules/time.h"

namespace brinegate {

struct CourseSummary {
  double mean = 0.0;
  double slope_per_second = 0.0;
  double slope_standard_error = 0.0;
};

class Course {
 public:
  explicit Course(Duration window) : slot_(window / slots) {}

  void add(MonoTime at, double value);
  void reset() { filled_ = {}; }
  // Nothing until the whole window up to now is covered: at most two of its slots may be empty, and
  // not both of the oldest two or of the newest two.
  [[nodiscard]] std::optional<CourseSummary> summary(MonoTime now) const;
  // 0 to 1: how much of the window is covered by now.
  [[nodiscard]] double coverage(MonoTime now) const;

 private:
  static constexpr std::int64_t slots = 20;
  struct Slot {
    std::int64_t number = -1;  // of the slot since the timeline's start
    double count = 0.0;
    double sum_of_seconds = 0.0;  // since the slot's start
    double sum = 0.0;
  };
  [[nodiscard]] std::int64_t number_of(MonoTime at) const { return at.time_since_epoch() / slot_; }
  [[nodiscard]] const Slot* find(std::int64_t number) const;

  Duration slot_;
  std::array<Slot, slots + 1> filled_{};
};

}  // namespace brinegate
