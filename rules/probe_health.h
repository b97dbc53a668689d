// SPDX-License-Identifier: Apache-2.0
// How a cell has drifted, from batch to batch and from calibration to calibration, and when it is
// to be calibrated again.
//
// The deviation of the cell since its last calibration is a straight line, offset + drift * days.
// What is known before any comparison (the calibration's uncertainty, the stated drift) and every
// comparison are weighted together by least squares. What all comparisons with one witness have in
// common (a guessed dry fraction, the other cell's calibration and drift) is estimated beside them,
// so that a witness that is always wrong alike does not look like drift.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "rules/calibration.h"
#include "rules/probe.h"
#include "rules/profile.h"
#include "rules/time.h"

namespace brinegate {

enum class HealthWitness { Standard, Dose, OtherCell };

// One comparison of a cell with something else. Deviations and uncertainties are relative, those of
// the cell's salinity.
struct HealthPoint {
  WallTime at;
  HealthWitness witness = HealthWitness::Standard;
  std::string batch;                  // in which it was compared; empty: in a standard
  double deviation = 0.0;             // positive: it reads high
  double standard_uncertainty = 0.0;  // of this comparison alone
  double common_uncertainty = 0.0;    // of every comparison with this witness alike

  bool operator==(const HealthPoint&) const = default;
};

struct HealthQuestion {
  WallTime calibrated;  // or first known
  WallTime today;
  double calibration_uncertainty = 0.0;  // relative
  double stated_drift = 0.0;             // relative, standard uncertainty for each day
  double limit = 0.0;                    // relative
};

struct ProbeHealth {
  std::size_t points = 0;  // since the calibration
  Duration since_calibration{0};
  double deviation = 0.0;  // relative, today
  double deviation_uncertainty = 0.0;
  double drift_per_day = 0.0;  // relative
  double drift_uncertainty = 0.0;
  bool drifts = false;                   // significantly (95 %)
  double limit = 0.0;                    // relative
  std::optional<Duration> calibrate_in;  // zero: now; none: not within two years
};

// A calibration is due when the expected deviation, plus twice what its uncertainty has grown to
// beyond that of a fresh calibration, reaches the limit. Points from before the calibration, and
// the one that it made itself, are left out.
ProbeHealth probe_health(std::span<const HealthPoint> points, const HealthQuestion& question);

// The limit: half of the profile's tolerance.
double calibration_limit(const Profile& profile);

// How far the cell was off in the standard before it was calibrated. None for what is no cell.
std::optional<HealthPoint> point_in_standard(const ProbeSpec& probe, const Calibration& before,
                                             const Calibration& after);

// Bounded; of one witness in one batch the latest counts, because its error is the same each time.
void add_point(std::vector<HealthPoint>& points, HealthPoint point);

}  // namespace brinegate
