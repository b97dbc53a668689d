// SPDX-License-Identifier: Apache-2.0
#include "rules/health_points.h"

#include <algorithm>
#include <cmath>

#include "rules/acceptance.h"

namespace brinegate {
namespace {

// A batch that is less than so much of product compares nothing.
constexpr double least_product = 0.5;

const CellEstimate* find(const SalinityEstimate& estimate, std::size_t probe) {
  const auto found = std::find_if(estimate.cells.begin(), estimate.cells.end(),
                                  [&](const CellEstimate& cell) { return cell.probe == probe; });
  return found == estimate.cells.end() ? nullptr : &*found;
}

double of_one_reading(const CellEstimate& cell) {
  return std::hypot(cell.budget.noise, cell.budget.resolution) / cell.salinity.value();
}

// What was weighed and noted anew is this batch's own error; the level probe, the lot's yield and
// what the cell shares with every batch are always the same.
std::optional<HealthPoint> against_dose(const Station& station, const CellEstimate& cell,
                                        WallTime now) {
  const auto& dose = station.dose();
  if (!dose || dose->dry_salt <= Grams(0.0) || dose->predicted.value.value() <= 0.0)
    return std::nullopt;
  const double product = dose->dry_part / dose->dry_salt;
  if (product < least_product)
    return std::nullopt;
  const double expected = dose->predicted.value.value();
  const double volume = dose->from_volume.value();
  const bool by_level = dose->volume.by_level;
  const double own =
      std::hypot(dose->from_weight.value(), dose->from_rest.value(), by_level ? 0.0 : volume);
  const double common = std::hypot(dose->from_yield.value(), by_level ? volume : 0.0);
  const double shared =
      std::hypot(cell.budget.temperature, cell.budget.salt_factor, cell.budget.extrapolation);
  return HealthPoint{now,
                     HealthWitness::Dose,
                     station.batch().id,
                     (cell.salinity.value() / expected - 1.0) / product,
                     std::hypot(own / expected, of_one_reading(cell)) / product,
                     std::hypot(common / expected, shared / cell.salinity.value()) / product};
}

std::optional<HealthPoint> against_other_cell(const Station& station, const CellEstimate& cell,
                                              WallTime now) {
  const auto& probes = station.spec().probes;
  const CellEstimate* best = nullptr;
  for (const CellEstimate& other : station.salinity().cells)
    if (other.probe != cell.probe &&
        (best == nullptr || other.budget.systematic() < best->budget.systematic()))
      best = &other;
  if (best == nullptr || best->salinity.value() <= 0.0)
    return std::nullopt;
  UncertaintyBudget common = best->budget;
  common.resolution = 0.0;
  // What both share alike does not part them.
  if (probes[cell.probe].temperature_from == probes[best->probe].temperature_from)
    common.temperature = 0.0;
  if (infers_from_conductivity(probes[cell.probe].measures) ==
      infers_from_conductivity(probes[best->probe].measures))
    common.salt_factor = 0.0;
  return HealthPoint{now,
                     HealthWitness::OtherCell,
                     station.batch().id,
                     cell.salinity / best->salinity - 1.0,
                     std::hypot(of_one_reading(cell), of_one_reading(*best)),
                     common.systematic() / best->salinity.value()};
}

}  // namespace

std::vector<HealthPoint> points_at_proof(const Station& station, std::size_t probe, WallTime now) {
  const CellEstimate* cell = find(station.salinity(), probe);
  std::vector<HealthPoint> points;
  if (cell == nullptr || cell->salinity.value() <= 0.0)
    return points;
  for (const auto& point :
       {against_dose(station, *cell, now), against_other_cell(station, *cell, now)})
    if (point)
      points.push_back(*point);
  return points;
}

std::optional<HealthQuestion> health_question(const Station& station, std::size_t probe,
                                              WallTime known_since, WallTime today) {
  const Profile& profile = station.batch().profile;
  const auto& probes = station.spec().probes;
  const WallTime calibrated = station.calibration(probe).at;
  const WallTime since = calibrated < earliest_believed ? known_since : calibrated;
  const std::vector<ProbeCondition> one_day(probes.size(), {1.0, 0.0, 0.0});
  const SalinityEstimate estimate =
      estimate_at_target(probes, one_day, station.batch().salt_factor, profile);
  const CellEstimate* cell = find(estimate, probe);
  if (cell == nullptr || since < earliest_believed)
    return std::nullopt;
  const double salinity = cell->salinity.value();
  return HealthQuestion{since, today, cell->budget.calibration / salinity,
                        cell->budget.drift / salinity, calibration_limit(profile)};
}

}  // namespace brinegate
