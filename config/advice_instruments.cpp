// SPDX-License-Identifier: Apache-2.0
// What is to be said of the instruments.
#include <fmt/format.h>

#include "config/advice.h"
#include "config/quantity.h"

namespace brinegate::config {

std::string sentence(const Acceptance& acceptance) {
  const std::string tolerance = show(acceptance.tolerance);
  const std::string known = show(PracticalSalinity(acceptance.budget.systematic()));
  std::string text =
      acceptance.half_width
          ? fmt::format(
                "The probes know the salinity to {} (k = 1): of the tolerance of {}, "
                "readings within {} of the target prove a batch.",
                known, tolerance, show(*acceptance.half_width))
          : fmt::format(
                "NOTHING is left of the tolerance of {}: the probes know the salinity to "
                "{} (k = 1) only, and no reading can prove a batch.",
                tolerance, known);
  const auto means = [](const WiderZone& zone) -> std::string {
    switch (zone.by) {
      case Widening::FreshCalibration:
        return "a fresh calibration";
      case Widening::SecondCell:
        return "a second cell";
      case Widening::WeighedSalt:
        return "the salt weighed in";
      case Widening::MeasuredSaltFactor:
        return fmt::format("the lot's salt factor measured to {:.1f} %",
                           100.0 * usual_factor_uncertainty);
      case Widening::WiderTolerance:
        return fmt::format("a tolerance of {}", show(zone.tolerance));
    }
    return "";
  };
  for (const WiderZone& zone : acceptance.wider) {
    const bool first = &zone == &acceptance.wider.front();
    text += fmt::format("{}{} would leave {}", first ? " By itself, " : "; ", means(zone),
                        show(zone.half_width));
  }
  return acceptance.wider.empty() ? text : text + ".";
}

std::string sentence(const ProbeHealth& health, std::string_view probe) {
  if (health.calibrate_in == Duration::zero())
    return fmt::format(
        "Calibrate {}: since its calibration it may have come to be off by {:.1f} %, "
        "which is half of the tolerance.",
        probe, 100.0 * health.limit);
  const std::string drift =
      health.points == 0 ? "Nothing was compared with it since its calibration"
      : health.drifts
          ? fmt::format("{} drifts by {:+.3f} % a day", probe, 100.0 * health.drift_per_day)
          : fmt::format("No drift of {} is to be seen", probe);
  const std::string when = health.calibrate_in
                               ? fmt::format("calibrate it within {}", show(*health.calibrate_in))
                               : "it needs no calibration within two years";
  return fmt::format("{}; {}.", drift, when);
}

}  // namespace brinegate::config
