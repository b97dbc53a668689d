// SPDX-License-Identifier: Apache-2.0
#include "rules/verification.h"

#include <algorithm>
#include <cmath>

namespace brinegate {
namespace {

constexpr double apart_beyond_agreement = 5.0;

struct Demand {
  double absolute = 0.0;  // of the agreement
  double relative = 0.0;  // of the agreement, share of what is shown
  double apart = 0.0;
};

// Common practice, no source.
Demand demand_of(Measures measures) {
  switch (measures) {
    case Measures::Conductivity:
    case Measures::CompensatedConductivity:
      return {0.1, 0.02, 10.0};
    case Measures::Salinity:
      return {0.2, 0.02, 5.0};
    case Measures::SpecificGravity:
      return {0.0005, 0.0, 0.005};
    case Measures::Temperature:
      return {0.5, 0.0, 5.0};
    case Measures::Level:
    case Measures::TankLevel:
      return {1.0, 0.02, 5.0};
    case Measures::Flow:
    case Measures::DrainFlow:
      return {0.5, 0.02, 1.0};
    case Measures::Circulation:
    case Measures::PumpRunning:
    case Measures::Leak:
    case Measures::ReservoirLow:
    case Measures::TankHigh:
    case Measures::HeldOff:
    case Measures::DrainRunning:
      break;
  }
  return {0.0, 0.0, 1.0};
}

}  // namespace

bool needs_verification(const ProbeSpec& probe) {
  return probe.on_register_map && !probe.simulated && probe.measures != Measures::PumpRunning &&
         probe.measures != Measures::DrainRunning;
}

double agreement(Measures measures, double shown) {
  const Demand demand = demand_of(measures);
  return std::max(demand.absolute, demand.relative * std::abs(shown));
}

double least_distance(Measures measures, double higher) {
  return std::max(demand_of(measures).apart, apart_beyond_agreement * agreement(measures, higher));
}

bool is_verified(const ProbeSpec& probe, const Verification& verification) {
  const auto& points = verification.points;
  return verification.map_entry == probe.map_entry && points.size() == 2 &&
         points.back().shown - points.front().shown >=
             least_distance(probe.measures, points.back().shown);
}

bool take_point(const ProbeSpec& probe, const VerifiedPoint& point, Verification& verification) {
  auto& points = verification.points;
  if (verification.map_entry != probe.map_entry)
    points.clear();
  verification.map_entry = probe.map_entry;
  if (!(std::abs(point.read - point.shown) <= agreement(probe.measures, point.shown))) {
    points.clear();
    return false;
  }
  // Of the same value the newer one.
  std::erase_if(points, [&](const VerifiedPoint& old) { return old.shown == point.shown; });
  const auto above = std::find_if(points.begin(), points.end(), [&](const VerifiedPoint& old) {
    return old.shown > point.shown;
  });
  points.insert(above, point);
  if (points.size() > 2)
    points.erase(points.begin() + 1);
  return true;
}

}  // namespace brinegate
