// SPDX-License-Identifier: Apache-2.0
// The one kind of generator the simulator draws from. It is always passed in, so that a seed
// repeats a run.
#pragma once

#include <random>

namespace brinegate::sim {

using Random = std::mt19937_64;

inline double normal(Random& random, double mean, double standard_deviation) {
  return mean + standard_deviation * std::normal_distribution<double>()(random);
}

inline double uniform(Random& random, double low, double high) {
  return std::uniform_real_distribution<double>(low, high)(random);
}

}  // namespace brinegate::sim
