// SPDX-License-Identifier: Apache-2.0
// Artificial salt is not Standard Seawater: its salinity over what its conductivity implies.
#pragma once

namespace brinegate {

// Unless it was measured: 1 ± 1 %, rectangular (common practice, no source).
constexpr double salt_factor_half_width = 0.01;

struct SaltFactor {
  double value = 1.0;
  double standard_uncertainty = salt_factor_half_width * 0.57735026918962576;  // over sqrt(3)
};

}  // namespace brinegate
