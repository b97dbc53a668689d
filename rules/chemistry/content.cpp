// SPDX-License-Identifier: Apache-2.0
#include "rules/chemistry/content.h"

#include <algorithm>
#include <cassert>
#include <cmath>

#include "rules/statistics.h"

namespace brinegate {

double CensoredValue::total_uncertainty() const {
  const double rectangular = (high - low) / std::sqrt(12.0);
  return std::hypot(standard_uncertainty, rectangular);
}

double CensoredValue::at_least() const {
  return std::max(0.0, low - two_sided_95_percent * standard_uncertainty);
}

double CensoredValue::at_most() const {
  return high + two_sided_95_percent * standard_uncertainty;
}

CensoredValue measured(double value, double standard_uncertainty) {
  return {value, value, standard_uncertainty};
}

CensoredValue below(double detection_limit) {
  return {0.0, detection_limit, 0.0};
}

CensoredValue operator+(const CensoredValue& a, const CensoredValue& b) {
  return {a.low + b.low, a.high + b.high,
          std::hypot(a.standard_uncertainty, b.standard_uncertainty)};
}

CensoredValue operator*(double factor, const CensoredValue& value) {
  assert(factor >= 0.0);
  return {factor * value.low, factor * value.high, factor * value.standard_uncertainty};
}

}  // namespace brinegate
