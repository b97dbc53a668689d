// SPDX-License-Identifier: Apache-2.0
#include "rules/trend.h"

#include <algorithm>
#include <cmath>

namespace brinegate {

void Trend::add(MonoTime at, double value) {
  if (!at_ || at - *at_ > most_) {
    level_ = value;
    per_second_ = 0.0;
  } else if (at > *at_) {
    // A level that lags behind is on the move as well, before its trend has shown it.
    const double half = 0.5 * seconds(most_);
    const double pace = std::abs(per_second_) + std::abs(value - level_) / half;
    const double averaged =
        std::clamp(step_ / std::max(pace, 1e-9), seconds(least_), seconds(most_));
    const double elapsed = seconds(at - *at_);
    const double kept = std::exp(-elapsed / averaged);
    const double expected = level_ + per_second_ * elapsed;
    const double surprise = value - expected;
    level_ = expected + (1.0 - kept * kept) * surprise;
    per_second_ += (1.0 - kept) * (1.0 - kept) * surprise / elapsed;
  }
  at_ = at;
}

}  // namespace brinegate
