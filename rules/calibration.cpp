// SPDX-License-Identifier: Apache-2.0
#include "rules/calibration.h"

#include <cmath>

namespace brinegate {
namespace {

bool changes_slope(Measures measures) {
  return measures == Measures::Conductivity || measures == Measures::CompensatedConductivity ||
         measures == Measures::Salinity || measures == Measures::Flow;
}

}  // namespace

Result<Calibration> one_point_calibration(const ProbeSpec& probe, double uncorrected,
                                          double standard, WallTime at) {
  if (is_contact(probe.measures))
    return Error{probe.name + " is a contact: there is nothing to calibrate"};
  if (!std::isfinite(uncorrected) || !std::isfinite(standard))
    return Error{probe.name + " cannot be calibrated to what is not a number; nothing was changed"};
  Calibration c;
  c.at = at;
  c.standard = standard;
  c.shown = uncorrected;
  c.map_entry = probe.map_entry;
  if (changes_slope(probe.measures)) {
    if (uncorrected <= 0.0 || standard <= 0.0)
      return Error{probe.name + " reads nothing of the standard: is the probe in it, and clean?"};
    c.slope = standard / uncorrected;
    if (c.slope < 0.7 || c.slope > 1.3)
      return Error{probe.name +
                   " is more than 30 % away from the standard: check the standard, the probe's "
                   "immersion and its unit, and clean it; nothing was changed"};
  } else {
    c.offset = standard - uncorrected;
    if (std::abs(c.offset) > 0.1 * (probe.limits.gross_high - probe.limits.gross_low))
      return Error{probe.name +
                   " is more than a tenth of its range away from the standard: check both; nothing "
                   "was changed"};
  }
  return c;
}

}  // namespace brinegate
