// SPDX-License-Identifier: Apache-2.0
// What a calibration did to a probe: value = slope * converted + offset, in the probe's unit.
#pragma once

#include <string>

#include "rules/probe.h"
#include "rules/result.h"
#include "rules/time.h"

namespace brinegate {

struct Calibration {
  double slope = 1.0;
  double offset = 0.0;
  WallTime at;            // when it was done; zero: never
  double standard = 0.0;  // what the probe had to show, in its unit
  double shown = 0.0;     // what it showed before
  std::string map_entry;  // of the probe, when it was done

  bool operator==(const Calibration&) const = default;
};

constexpr double calibrated(const Calibration& c, double value) {
  return c.slope * value + c.offset;
}

// One-point calibration. Conductivity and salinity probes change their slope (the cell constant),
// all others their offset. `uncorrected` is the converted value before any calibration. Error where
// the result is implausible: more than 30 % of slope, or more than a tenth of the range of offset,
// means a wrong standard, a dry probe or a dirty one, and nothing is changed.
Result<Calibration> one_point_calibration(const ProbeSpec& probe, double uncorrected,
                                          double standard, WallTime at);

}  // namespace brinegate
