// SPDX-License-Identifier: Apache-2.0
// Conformity of a measured value with a tolerance, JCGM 106:2012 (7.4, 8.3), for a normally
// distributed measurement error. A missing limit is an infinite one.
#pragma once

#include <optional>
#include <utility>

namespace brinegate {

// Probability that the true value lies outside [low, high], given its best estimate. Small risks
// keep their relative precision. The uncertainty must not be negative (asserted); 0 is certainty.
double nonconformance_probability(double estimate, double standard_uncertainty, double low,
                                  double high);
// That it lies inside.
double conformance_probability(double estimate, double standard_uncertainty, double low,
                               double high);

// Between which estimates the nonconformance probability is at most `risk` (above 0, at most 0.5;
// asserted). None where even the middle of the tolerance is riskier.
std::optional<std::pair<double, double>> acceptance_limits(double low, double high,
                                                           double standard_uncertainty,
                                                           double risk);

}  // namespace brinegate
