// SPDX-License-Identifier: Apache-2.0
#include "rules/salinity_estimate.h"

#include <algorithm>
#include <cmath>

#include "rules/seawater.h"

namespace brinegate {
namespace {

constexpr double two_sided_99_percent = 2.576;

std::optional<CellEstimate> from_conductivity(std::size_t index, std::span<const ProbeSpec> probes,
                                              std::span<const Reading> readings) {
  const ProbeSpec& probe = probes[index];
  const auto shown = readings[index].good_value();
  if (!probe.temperature_from || !shown)
    return std::nullopt;
  const auto t = readings[*probe.temperature_from].good_value();
  if (!t)
    return std::nullopt;
  const Celsius temperature(*t);
  const bool is_compensated = probe.measures == Measures::CompensatedConductivity;
  const MilliSiemensPerCm in_situ =
      is_compensated ? uncompensated(MilliSiemensPerCm(*shown), temperature, probe.compensation)
                     : MilliSiemensPerCm(*shown);
  if (salinity_quality(in_situ, temperature) != Quality::Good)
    return std::nullopt;
  const SalinitySensitivity slope = salinity_sensitivity(in_situ, temperature);
  // Where the probe has compensated, temperature enters through its undoing as well.
  const double conductivity_per_celsius =
      is_compensated ? *shown * probe.compensation.alpha_per_celsius : 0.0;
  const double per_celsius =
      slope.per_celsius + slope.per_millisiemens_per_cm * conductivity_per_celsius;
  const ProbeUncertainty& temperature_u = probes[*probe.temperature_from].uncertainty;
  return CellEstimate{
      index, practical_salinity(in_situ, temperature),
      slope.per_millisiemens_per_cm * standard_uncertainty(probe.uncertainty, in_situ.value()),
      std::abs(per_celsius) * standard_uncertainty(temperature_u, temperature.value()),
      per_celsius};
}

std::optional<CellEstimate> estimate_cell(std::size_t index, std::span<const ProbeSpec> probes,
                                          std::span<const Reading> readings) {
  const ProbeSpec& probe = probes[index];
  const auto shown = readings[index].good_value();
  if (!shown)
    return std::nullopt;
  switch (probe.measures) {
    case Measures::Conductivity:
    case Measures::CompensatedConductivity:
      return from_conductivity(index, probes, readings);
    case Measures::Salinity:
      return CellEstimate{index, PracticalSalinity(*shown),
                          standard_uncertainty(probe.uncertainty, *shown), 0.0, 0.0};
    case Measures::SpecificGravity: {
      constexpr double step = 1e-4;
      const PracticalSalinity salinity = salinity_of_gravity(*shown, probe.gravity);
      const double slope =
          (salinity_of_gravity(*shown + step, probe.gravity) - salinity).value() / step;
      return CellEstimate{index, salinity, slope * standard_uncertainty(probe.uncertainty, *shown),
                          0.0, 0.0};
    }
    default:
      return std::nullopt;
  }
}

void compare_cells(SalinityEstimate& estimate) {
  double worst_ratio = -1.0;
  for (std::size_t i = 0; i < estimate.cells.size(); ++i) {
    for (std::size_t j = i + 1; j < estimate.cells.size(); ++j) {
      const CellEstimate& a = estimate.cells[i];
      const CellEstimate& b = estimate.cells[j];
      const double difference = std::abs((a.salinity - b.salinity).value());
      const double allowed =
          two_sided_99_percent * std::hypot(a.own_uncertainty, b.own_uncertainty);
      const double ratio = difference / std::max(allowed, 1e-9);
      if (ratio <= worst_ratio)
        continue;
      worst_ratio = ratio;
      estimate.largest_difference = difference;
      estimate.allowed_difference = allowed;
      if (ratio > 1.0)
        estimate.disagreeing = {a.probe, b.probe};
    }
  }
}

void combine(SalinityEstimate& estimate) {
  double weights = 0.0;
  double weighted = 0.0;
  double shared = 0.0;
  for (const CellEstimate& cell : estimate.cells) {
    const double weight = 1.0 / std::max(cell.own_uncertainty * cell.own_uncertainty, 1e-12);
    weights += weight;
    weighted += weight * cell.salinity.value();
    estimate.per_celsius += weight * cell.per_celsius;
    shared = std::max(shared, cell.temperature_uncertainty);
  }
  const PracticalSalinity value(weighted / weights);
  const double salt_factor = salt_factor_half_width / std::sqrt(3.0) * value.value();
  estimate.value = value;
  estimate.per_celsius /= weights;
  estimate.standard_uncertainty =
      std::sqrt(1.0 / weights + shared * shared + salt_factor * salt_factor);
}

}  // namespace

SalinityEstimate estimate_salinity(std::span<const ProbeSpec> probes,
                                   std::span<const Reading> readings) {
  SalinityEstimate estimate;
  std::size_t configured = 0;
  for (std::size_t i = 0; i < probes.size(); ++i) {
    if (!is_salinity_cell(probes[i].measures))
      continue;
    ++configured;
    const auto cell = estimate_cell(i, probes, readings);
    if (!cell)
      continue;
    estimate.cells.push_back(*cell);
    estimate.taken = std::max(estimate.taken, readings[i].taken());
    estimate.simulated |= readings[i].simulated();
    if (probes[i].temperature_from)
      estimate.simulated |= readings[*probes[i].temperature_from].simulated();
  }
  estimate.complete = configured > 0 && estimate.cells.size() == configured;
  compare_cells(estimate);
  if (estimate.complete)
    combine(estimate);
  return estimate;
}

}  // namespace brinegate
