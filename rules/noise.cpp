// SPDX-License-Identifier: Apache-2.0
#include "rules/noise.h"

#include <algorithm>
#include <cmath>

namespace brinegate {
namespace {

constexpr int remembered = 128;              // samples
constexpr int fewest = 12;                   // before the scatter means anything
constexpr double second_variance = 6.0;      // of x - 2 x' + x'', over that of x
constexpr double largest_square = 9.0;       // times the variance
constexpr double median_pace = 1.1;          // by which the median follows, a sample
constexpr double median_of_normal = 0.6745;  // times the standard deviation
// What counting in steps makes of a value between two of them is no outlier.
constexpr double largest_of_steps = 2.0;

constexpr double same_step = 0.02;  // a share: steps that differ by less are one
constexpr int often_enough = 4;
constexpr int long_unseen = 64;  // steps

}  // namespace

void Noise::add(double value) {
  const double step = value - last_;
  const double bend = step - step_before_;
  last_ = value;
  step_before_ = step;
  ++samples_;
  if (samples_ > 1 && step != 0.0)
    add_step(std::abs(step));
  if (samples_ <= 2)
    return;
  const int bends = samples_ - 2;
  const double amount = std::abs(bend);
  median_ =
      median_ == 0.0 ? amount : median_ * (amount > median_ ? median_pace : 1.0 / median_pace);
  double square = bend * bend / second_variance;
  if (bends > fewest) {
    const double steps = largest_of_steps * resolution();
    square =
        std::min(square, std::max(largest_square * variance_, steps * steps / second_variance));
  }
  variance_ += (square - variance_) / std::min(bends, remembered);
  samples_ = std::min(samples_, remembered + 2);
}

void Noise::add_step(double step) {
  const double difference = step - smallest_step_;
  if (std::abs(difference) <= same_step * smallest_step_) {
    seen_ = std::min(seen_ + 1, often_enough);
    not_seen_ = 0;
    return;
  }
  ++not_seen_;
  if (smallest_step_ > 0.0 && difference > 0.0 && not_seen_ < long_unseen)
    return;
  smallest_step_ = step;
  seen_ = 1;
  not_seen_ = 0;
}

double Noise::standard_deviation() const {
  if (samples_ < fewest + 2)
    return 0.0;
  const double by_median = median_ / (median_of_normal * std::sqrt(second_variance));
  return std::min(std::sqrt(variance_), 2.0 * by_median);
}

double Noise::resolution() const {
  return seen_ >= often_enough ? smallest_step_ : 0.0;
}

}  // namespace brinegate
