// SPDX-License-Identifier: Apache-2.0
// From readings to the salinity of the water and its uncertainty budget (JCGM 100, k = 1). What
// cells share is not counted as independent: the one thermometer of two of them, and the salt
// factor of all that infer salinity from conductivity. Cells that disagree are named and nothing is
// averaged away. Not known, and so not counted as shared: a standard in which several cells were
// calibrated.
#pragma once

#include <optional>
#include <span>
#include <utility>
#include <vector>

#include "rules/probe.h"
#include "rules/reading.h"
#include "rules/salt_factor.h"
#include "rules/units.h"

namespace brinegate {

// What is known of a probe now, beside its specification.
struct ProbeCondition {
  double days_since_calibration = 0.0;
  double noise = 0.0;       // standard deviation of a sample, in its unit
  double resolution = 0.0;  // step seen between its samples, in its unit; 0: none
};

// Standard uncertainties in PSU, independent of each other.
struct UncertaintyBudget {
  double calibration = 0.0;
  double drift = 0.0;
  double resolution = 0.0;   // as far as noise does not average it away
  double noise = 0.0;        // of one reading; of cells and thermometers
  double temperature = 0.0;  // what the thermometers add but for their noise
  double salt_factor = 0.0;
  double extrapolation = 0.0;  // beyond the end of practical salinity

  [[nodiscard]] double systematic() const;  // what no averaging of readings takes away
  [[nodiscard]] double total() const;
};

struct CellEstimate {
  std::size_t probe = 0;
  PracticalSalinity salinity;
  UncertaintyBudget budget;
  double per_celsius = 0.0;  // PSU / °C, by which it depends on the temperature's reading
};

struct SalinityEstimate {
  std::vector<CellEstimate> cells;         // those that gave a good value
  bool complete = false;                   // every configured cell did
  std::optional<PracticalSalinity> value;  // weighted mean; only where complete
  UncertaintyBudget budget;
  double standard_uncertainty = 0.0;    // PSU, of one reading: the whole budget
  double systematic_uncertainty = 0.0;  // PSU, what is left of it however many readings there are
  double per_celsius = 0.0;             // PSU / °C, of the value
  // The worst pair, where their difference exceeds what their uncertainties allow at 99 %.
  std::optional<std::pair<std::size_t, std::size_t>> disagreeing;
  double largest_difference = 0.0;  // PSU, of any two cells
  double allowed_difference = 0.0;  // PSU, of that pair
  MonoTime taken;                   // the newest sample in it
  bool simulated = false;           // any part of it
};

// Whether the salt factor applies. A probe that reports a salinity is taken to infer it from
// conductivity, as by definition a practical salinity is; a hydrometer does not.
constexpr bool infers_from_conductivity(Measures m) {
  return m <= Measures::Salinity;
}

// `conditions` in the order of the probes; empty: all fresh from calibration and without noise.
SalinityEstimate estimate_salinity(std::span<const ProbeSpec> probes,
                                   std::span<const Reading> readings,
                                   std::span<const ProbeCondition> conditions = {},
                                   SaltFactor salt_factor = {});

}  // namespace brinegate
