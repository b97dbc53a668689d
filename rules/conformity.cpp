// SPDX-License-Identifier: Apache-2.0
// Tails by erfc, so that a risk of 1e-30 is that and not 0.
#include "rules/conformity.h"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <numbers>

namespace brinegate {
namespace {

// Probability that a normal error of this standard deviation exceeds `distance`.
double tail(double distance, double standard_uncertainty) {
  if (standard_uncertainty == 0.0)
    return distance < 0.0 ? 1.0 : 0.0;
  return 0.5 * std::erfc(distance / (standard_uncertainty * std::numbers::sqrt2));
}

}  // namespace

double nonconformance_probability(double estimate, double standard_uncertainty, double low,
                                  double high) {
  assert(standard_uncertainty >= 0.0 && low <= high && std::isfinite(estimate));
  return tail(estimate - low, standard_uncertainty) + tail(high - estimate, standard_uncertainty);
}

double conformance_probability(double estimate, double standard_uncertainty, double low,
                               double high) {
  assert(standard_uncertainty >= 0.0 && low <= high && std::isfinite(estimate));
  // Outside the tolerance a difference of tails; inside it would cancel.
  if (estimate < low)
    return tail(low - estimate, standard_uncertainty) - tail(high - estimate, standard_uncertainty);
  if (estimate > high)
    return tail(estimate - high, standard_uncertainty) - tail(estimate - low, standard_uncertainty);
  return 1.0 - nonconformance_probability(estimate, standard_uncertainty, low, high);
}

std::optional<std::pair<double, double>> acceptance_limits(double low, double high,
                                                           double standard_uncertainty,
                                                           double risk) {
  assert(risk > 0.0 && risk <= 0.5 && standard_uncertainty >= 0.0 && low <= high);
  const auto risk_at = [&](double guard_band) {
    return tail(guard_band, standard_uncertainty) +
           tail(high - low - guard_band, standard_uncertainty);
  };
  // The two tails are mirror images, so one guard band serves both sides. 38 standard deviations
  // are where the tail of a double ends.
  double enough = std::min((high - low) / 2.0, 38.0 * standard_uncertainty);
  if (risk_at(enough) > risk)
    return std::nullopt;
  double little = 0.0;
  for (int i = 0; i < 100; ++i) {
    const double middle = (little + enough) / 2.0;
    (risk_at(middle) > risk ? little : enough) = middle;
  }
  return std::pair(low + enough, high - enough);
}

}  // namespace brinegate
