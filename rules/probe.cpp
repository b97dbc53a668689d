// SPDX-License-Identifier: Apache-2.0
#include "rules/probe.h"

#include <algorithm>
#include <cmath>

namespace brinegate {

double converted(const Conversion& conversion, double raw) {
  const double x = conversion.scale * raw + conversion.offset;
  const auto& table = conversion.table;
  if (table.size() < 2)
    return x;
  const auto above = std::upper_bound(table.begin() + 1, table.end() - 1, x,
                                      [](double v, const auto& row) { return v < row.first; });
  const auto& high = *above;
  const auto& low = *(above - 1);
  return low.second + (x - low.first) * (high.second - low.second) / (high.first - low.first);
}

// Common practice, no source, except where a range follows from the equations of seawater.h.
SampleLimits default_sample_limits(Measures measures, double capacity_litres) {
  using namespace std::chrono_literals;
  SampleLimits limits;
  switch (measures) {
    case Measures::Conductivity:
    case Measures::CompensatedConductivity:
      limits = {0.0, 70.0, true, 1.0, 2.0, 2.0, 10min};
      break;
    case Measures::Salinity:
      limits = {0.0, 50.0, true, 0.6, 1.5, 1.5, 10min};
      break;
    case Measures::SpecificGravity:
      limits = {0.995, 1.040, true, std::nullopt, 0.0012, 0.0012, 10min};
      break;
    case Measures::Temperature:
      limits = {1.0, 40.0, true, std::nullopt, 1.0, 0.5, std::nullopt};
      break;
    case Measures::Level:
      limits = {-0.02 * capacity_litres, 1.1 * capacity_litres, false,       std::nullopt,
                0.1 * capacity_litres,   std::nullopt,          std::nullopt};
      break;
    case Measures::TankLevel:
      limits = {0.0, 100'000.0, false, std::nullopt, std::nullopt, std::nullopt, std::nullopt};
      break;
    case Measures::Flow:
    case Measures::DrainFlow:
      limits = {-1.0, 1000.0, false, std::nullopt, std::nullopt, std::nullopt, std::nullopt};
      break;
    case Measures::Circulation:
    case Measures::PumpRunning:
    case Measures::Leak:
    case Measures::ReservoirLow:
    case Measures::TankHigh:
    case Measures::HeldOff:
    case Measures::DrainRunning:
      limits = {0.0, 1.0, false, std::nullopt, std::nullopt, std::nullopt, std::nullopt};
      break;
  }
  return limits;
}

double standard_uncertainty(const ProbeUncertainty& uncertainty, double value) {
  return std::hypot(uncertainty.absolute, uncertainty.relative * value);
}

// Common practice, no source: a calibrated hobby or industrial probe of each kind. Probes that
// report a salinity or gravity themselves get a wider one, because what they did is not known.
ProbeUncertainty default_probe_uncertainty(Measures measures) {
  switch (measures) {
    case Measures::Conductivity:
    case Measures::CompensatedConductivity:
      return {0.02, 0.005};
    case Measures::Salinity:
      return {0.3, 0.0};
    case Measures::SpecificGravity:
      return {0.0003, 0.0};
    case Measures::Temperature:
      return {0.1, 0.0};
    case Measures::Level:
    case Measures::TankLevel:
      return {0.5, 0.01};
    case Measures::Flow:
    case Measures::DrainFlow:
      return {0.0, 0.05};
    case Measures::Circulation:
    case Measures::PumpRunning:
    case Measures::Leak:
    case Measures::ReservoirLow:
    case Measures::TankHigh:
    case Measures::HeldOff:
    case Measures::DrainRunning:
      return {};
  }
  return {};
}

// Common practice, no source: films and scale on a cell's electrodes, or a slipping scale, take
// tenths of a per cent in a month.
ProbeUncertainty default_probe_drift(Measures measures) {
  switch (measures) {
    case Measures::Conductivity:
    case Measures::CompensatedConductivity:
    case Measures::Salinity:
      return {0.0, 0.0001};
    case Measures::SpecificGravity:
      return {0.000002, 0.0};
    case Measures::Temperature:
      return {0.0003, 0.0};
    default:
      return {};
  }
}

}  // namespace brinegate
