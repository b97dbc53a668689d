// SPDX-License-Identifier: Apache-2.0
// What the instruments leave of a profile's tolerance, and what would leave more. Between which
// readings a batch is proven follows from the uncertainty and the accepted risk (JCGM 106, 8.3.3);
// here at the profile's target and the middle of its temperature, every probe reading well and its
// noise averaged away.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "rules/probe.h"
#include "rules/profile.h"
#include "rules/salinity_estimate.h"

namespace brinegate {

enum class Widening {
  FreshCalibration,    // of every probe of the estimate, today
  SecondCell,          // another like the best there is, on the same thermometer
  WeighedSalt,         // a dose that agrees, fused with the cells
  MeasuredSaltFactor,  // of the lot, to usual_factor_uncertainty
  WiderTolerance,      // one of which half is left
};

struct WiderZone {
  Widening by = Widening::FreshCalibration;
  PracticalSalinity half_width;
  PracticalSalinity tolerance;  // with which it is reached
};

struct Acceptance {
  UncertaintyBudget budget;
  PracticalSalinity tolerance;
  std::optional<PracticalSalinity> half_width;  // readings so far from the target; none: no reading
  std::vector<WiderZone> wider;                 // what would help, and by itself; widest first
};

// Relative standard uncertainties (common practice, no source): of a salinity by the dose with a
// guessed dry fraction (rules/dose_witness.h); and of a lot's factor from a good hydrometer.
constexpr double weighed_salt_uncertainty = 0.025;
constexpr double usual_factor_uncertainty = 0.003;

// What every probe reading well would tell at the profile's target.
SalinityEstimate estimate_at_target(std::span<const ProbeSpec> probes,
                                    std::span<const ProbeCondition> conditions,
                                    SaltFactor salt_factor, const Profile& profile);

// `conditions` as of estimate_salinity. None where the probes tell no salinity at the target.
std::optional<Acceptance> acceptance(std::span<const ProbeSpec> probes,
                                     std::span<const ProbeCondition> conditions,
                                     SaltFactor salt_factor, const Profile& profile);

}  // namespace brinegate
