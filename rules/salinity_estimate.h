// SPDX-License-Identifier: Apache-2.0
// From readings to the salinity of the water and its standard uncertainty (JCGM 100, k = 1). The
// one temperature that serves two conductivity cells is not counted as independent; cells that
// disagree are named and nothing is averaged away.
#pragma once

#include <optional>
#include <span>
#include <utility>
#include <vector>

#include "rules/probe.h"
#include "rules/reading.h"
#include "rules/units.h"

namespace brinegate {

struct CellEstimate {
  std::size_t probe = 0;
  PracticalSalinity salinity;
  double own_uncertainty = 0.0;          // PSU, from the cell itself
  double temperature_uncertainty = 0.0;  // PSU, from the temperature it is computed with
  double per_celsius = 0.0;              // PSU / °C, by which it depends on that temperature
};

struct SalinityEstimate {
  std::vector<CellEstimate> cells;         // those that gave a good value
  bool complete = false;                   // every configured cell did
  std::optional<PracticalSalinity> value;  // weighted mean; only where complete
  double standard_uncertainty = 0.0;       // PSU
  double per_celsius = 0.0;                // PSU / °C, of the value
  // The worst pair, where their difference exceeds what their uncertainties allow at 99 %.
  std::optional<std::pair<std::size_t, std::size_t>> disagreeing;
  double largest_difference = 0.0;  // PSU, of any two cells
  double allowed_difference = 0.0;  // PSU, of that pair
  MonoTime taken;                   // the newest sample in it
  bool simulated = false;           // any part of it
};

// Artificial salt is not Standard Seawater: its salinity over what conductivity implies is taken as
// 1 ± 1 %, rectangular (common practice, no source).
constexpr double salt_factor_half_width = 0.01;

SalinityEstimate estimate_salinity(std::span<const ProbeSpec> probes,
                                   std::span<const Reading> readings);

}  // namespace brinegate
