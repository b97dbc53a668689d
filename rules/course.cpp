// SPDX-License-Identifier: Apache-2.0
#include "rules/course.h"

#include <algorithm>
#include <cmath>

namespace brinegate {

void Course::add(MonoTime at, double value) {
  const std::int64_t number = number_of(at);
  Slot& slot = filled_[static_cast<std::size_t>(number) % filled_.size()];
  if (slot.number > number)
    return;  // older than the window
  if (slot.number != number)
    slot = {number, 0.0, 0.0, 0.0};
  slot.count += 1.0;
  slot.sum += value;
  slot.sum_of_seconds += seconds(at.time_since_epoch() - number * slot_);
}

const Course::Slot* Course::find(std::int64_t number) const {
  if (number < 0)
    return nullptr;
  const Slot& slot = filled_[static_cast<std::size_t>(number) % filled_.size()];
  return slot.number == number && slot.count > 0.0 ? &slot : nullptr;
}

double Course::coverage(MonoTime now) const {
  const std::int64_t newest = number_of(now);
  std::int64_t covered = 0;
  for (std::int64_t i = 0; i < slots; ++i)
    covered += find(newest - i) != nullptr ? 1 : 0;
  return static_cast<double>(covered) / static_cast<double>(slots);
}

std::optional<CourseSummary> Course::summary(MonoTime now) const {
  const std::int64_t newest = number_of(now);
  const std::int64_t oldest = newest - slots;  // the newest slot has only just begun
  // Weighted by the samples of each slot: the newest may hold but one, where it would sway the line
  // most.
  double n = 0.0;
  double weights = 0.0;
  double sum_x = 0.0;
  double sum_y = 0.0;
  double sum_xx = 0.0;
  double sum_xy = 0.0;
  double sum_yy = 0.0;
  double first_y = 0.0;
  for (std::int64_t i = oldest; i <= newest; ++i) {
    const Slot* slot = find(i);
    if (slot == nullptr)
      continue;
    const double x = seconds((i - oldest) * slot_) + slot->sum_of_seconds / slot->count;
    double y = slot->sum / slot->count;
    if (n == 0.0)
      first_y = y;
    y -= first_y;  // keeps the sums small
    n += 1.0;
    weights += slot->count;
    sum_x += slot->count * x;
    sum_y += slot->count * y;
    sum_xx += slot->count * x * x;
    sum_xy += slot->count * x * y;
    sum_yy += slot->count * y * y;
  }
  const bool begins = find(oldest) != nullptr || find(oldest + 1) != nullptr;
  const bool ends = find(newest) != nullptr || find(newest - 1) != nullptr;
  if (n < static_cast<double>(slots) - 1.0 || !begins || !ends)
    return std::nullopt;
  const double s_xx = sum_xx - sum_x * sum_x / weights;
  const double s_xy = sum_xy - sum_x * sum_y / weights;
  const double s_yy = sum_yy - sum_y * sum_y / weights;
  const double slope = s_xy / s_xx;
  const double residual = std::max(0.0, s_yy - slope * s_xy);
  return CourseSummary{first_y + sum_y / weights, slope, std::sqrt(residual / (n - 2.0) / s_xx)};
}

}  // namespace brinegate
