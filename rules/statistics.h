// SPDX-License-Identifier: Apache-2.0
// Quantiles of the standard normal distribution (JCGM 100:2008, table G.1), and a square.
#pragma once

namespace brinegate {

inline constexpr double one_sided_95_percent = 1.645;
inline constexpr double two_sided_95_percent = 1.96;
inline constexpr double two_sided_99_percent = 2.576;

constexpr double squared(double x) {
  return x * x;
}

}  // namespace brinegate
