// SPDX-License-Identifier: Apache-2.0
#include "rules/chemistry/propagation.h"

#include <algorithm>
#include <cmath>

namespace brinegate {

Propagated propagated(const PossibleResults& results) {
  const auto [low, high, low_start, high_start, low_water, high_water, low_rate, high_rate] =
      results;
  const auto part = [low = low, high = high](double least, double most) {
    return std::max(std::abs(low - least), std::abs(most - high)) / two_sided_95_percent;
  };
  Propagated all{{low, high, 0.0},
                 part(low_start, high_start),
                 part(low_water, high_water),
                 part(low_rate, high_rate)};
  all.value.standard_uncertainty = std::hypot(all.by_start, all.by_new_water, all.by_consumption);
  return all;
}

}  // namespace brinegate
