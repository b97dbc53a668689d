// SPDX-License-Identifier: Apache-2.0
#include "rules/health_points.h"

#include <algorithm>
#include <cmath>

#include "rules/acceptance.h"
#include "rules/seawater.h"

namespace brinegate {
namespace {

// Relative standard uncertainties of the dose (common practice, no source).
constexpr double weighing = 0.01;
constexpr double noted_volume = 0.02;
constexpr double dry_fraction = 0.02;

const CellEstimate* find(const SalinityEstimate& estimate, std::size_t probe) {
  const auto found = std::find_if(estimate.cells.begin(), estimate.cells.end(),
                                  [&](const CellEstimate& cell) { return cell.probe == probe; });
  return found == estimate.cells.end() ? nullptr : &*found;
}

double of_one_reading(const CellEstimate& cell) {
  return std::hypot(cell.budget.noise, cell.budget.resolution) / cell.salinity.value();
}

// Of the volume by a level probe; the same in every batch.
double level_share(const Station& station) {
  for (const ProbeSpec& probe : station.spec().probes)
    if (probe.measures == Measures::Level)
      return standard_uncertainty(probe.uncertainty, station.volume()->value()) /
             station.volume()->value();
  return 0.0;
}

std::optional<HealthPoint> against_dose(const Station& station, const CellEstimate& cell,
                                        WallTime now) {
  const Batch& batch = station.batch();
  const Litres volume = station.volume().value_or(batch.rest + batch.water_noted);
  const auto temperature = station.temperature();
  if (!batch.salt_noted || !temperature || volume.value() <= 0.0 || batch.dry_salt.value() <= 0.0)
    return std::nullopt;
  const double of_rest =
      batch.rest.value() * salt_grams_per_litre(batch.rest_salinity, *temperature);
  const double weighed_share = 1.0 - of_rest / batch.dry_salt.value();
  if (weighed_share < 0.5)
    return std::nullopt;
  const double dosed =
      salinity_of_grams_per_litre(batch.dry_salt.value() / volume.value(), *temperature).value();
  const double shared = std::hypot(cell.budget.temperature, cell.budget.salt_factor);
  const double own_volume = station.volume() ? 0.0 : noted_volume;
  const double common_volume = station.volume() ? level_share(station) : 0.0;
  return HealthPoint{
      now,
      HealthWitness::Dose,
      batch.id,
      (cell.salinity.value() / dosed - 1.0) / weighed_share,
      std::hypot(weighing, own_volume, of_one_reading(cell)) / weighed_share,
      std::hypot(dry_fraction, common_volume, shared / cell.salinity.value()) / weighed_share};
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
