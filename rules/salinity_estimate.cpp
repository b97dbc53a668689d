// SPDX-License-Identifier: Apache-2.0
#include "rules/salinity_estimate.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "rules/seawater.h"
#include "rules/statistics.h"

namespace brinegate {
namespace {

// Standard uncertainties of what one probe shows, in its unit.
struct Shown {
  double calibration = 0.0;
  double drift = 0.0;
  double resolution = 0.0;
  double noise = 0.0;

  [[nodiscard]] double without_noise() const { return std::hypot(calibration, drift, resolution); }
};

// What counting in steps leaves of an error after averaging. Without noise it is that of a
// rectangle one step wide; noise wider than the steps carries the value over them, and the mean
// knows better than one step (the first harmonic of a quantizer's error under Gaussian dither). The
// noise that was seen contains what the steps add to it (Sheppard).
double left_by_steps(double step, double noise) {
  if (step <= 0.0)
    return 0.0;
  const double rectangle = step / std::sqrt(12.0);
  const double dither = std::max(0.0, squared(noise / step) - 1.0 / 12.0);
  return rectangle * std::exp(-2.0 * squared(std::numbers::pi) * dither);
}

Shown shown_by(const ProbeSpec& probe, const ProbeCondition& condition, double value) {
  return {standard_uncertainty(probe.uncertainty, value),
          condition.days_since_calibration * standard_uncertainty(probe.drift_per_day, value),
          left_by_steps(std::max(probe.resolution, condition.resolution), condition.noise),
          condition.noise};
}

// A cell's salinity with how it depends on everything that is not known exactly.
struct Cell {
  std::size_t probe = 0;
  std::optional<std::size_t> thermometer;
  double salinity = 0.0;  // PSU
  double per_unit = 0.0;  // PSU for each unit that the cell shows
  double per_celsius = 0.0;
  double per_factor = 0.0;
  double extrapolation = 0.0;  // PSU
  Shown own;
  Shown temperature;
};

struct Inputs {
  std::span<const ProbeSpec> probes;
  std::span<const Reading> readings;
  std::span<const ProbeCondition> conditions;
  SaltFactor salt_factor;

  [[nodiscard]] Shown shown(std::size_t probe, double value) const {
    return shown_by(probes[probe], conditions.empty() ? ProbeCondition{} : conditions[probe],
                    value);
  }
};

// Also beyond the end of the scale, where people need to know what to add.
bool can_be_told(MilliSiemensPerCm in_situ, Celsius temperature) {
  return temperature >= coldest_of_practical_salinity &&
         temperature <= warmest_of_practical_salinity &&
         salinity_quality(in_situ, temperature) != Quality::Bad;
}

std::optional<Cell> from_conductivity(Cell cell, const Inputs& inputs, double shown) {
  const ProbeSpec& probe = inputs.probes[cell.probe];
  if (!probe.temperature_from)
    return std::nullopt;
  const auto t = inputs.readings[*probe.temperature_from].good_value();
  if (!t)
    return std::nullopt;
  const Celsius temperature(*t);
  const bool is_compensated = probe.measures == Measures::CompensatedConductivity;
  const MilliSiemensPerCm in_situ =
      is_compensated ? uncompensated(MilliSiemensPerCm(shown), temperature, probe.compensation)
                     : MilliSiemensPerCm(shown);
  if (!can_be_told(in_situ, temperature))
    return std::nullopt;
  const SalinitySensitivity slope = salinity_sensitivity(in_situ, temperature);
  // Where the probe has compensated, temperature enters through its undoing as well.
  const double undoing = is_compensated ? shown * probe.compensation.alpha_per_celsius : 0.0;
  cell.thermometer = probe.temperature_from;
  const PracticalSalinity salinity = practical_salinity(in_situ, temperature);
  cell.salinity = salinity.value();
  cell.extrapolation = extrapolation_uncertainty(salinity).value();
  cell.per_unit = slope.per_millisiemens_per_cm * (shown > 0.0 ? in_situ.value() / shown : 1.0);
  cell.per_celsius = slope.per_celsius + slope.per_millisiemens_per_cm * undoing;
  cell.temperature = inputs.shown(*probe.temperature_from, *t);
  return cell;
}

std::optional<Cell> cell_of(std::size_t index, const Inputs& inputs) {
  const ProbeSpec& probe = inputs.probes[index];
  const auto shown = inputs.readings[index].good_value();
  if (!shown)
    return std::nullopt;
  std::optional<Cell> cell(Cell{});
  cell->probe = index;
  cell->own = inputs.shown(index, *shown);
  cell->salinity = *shown;
  cell->per_unit = 1.0;
  if (probe.measures == Measures::SpecificGravity) {
    constexpr double step = 1e-4;
    const PracticalSalinity salinity = salinity_of_gravity(*shown, probe.gravity);
    cell->salinity = salinity.value();
    cell->per_unit = (salinity_of_gravity(*shown + step, probe.gravity) - salinity).value() / step;
  } else if (probe.measures != Measures::Salinity) {
    cell = from_conductivity(*cell, inputs, *shown);
  }
  if (cell && infers_from_conductivity(probe.measures)) {
    cell->per_factor = cell->salinity;
    for (double* of : {&cell->salinity, &cell->per_unit, &cell->per_celsius})
      *of *= inputs.salt_factor.value;
  }
  return cell;
}

struct Weighted {
  const Cell* cell = nullptr;
  double weight = 1.0;
};

// Budget of the weighted sum of cells (JCGM 100, 5.2): what they share adds up with its sign before
// it is squared, what is their own after.
UncertaintyBudget budget_of(std::span<const Weighted> sum, const SaltFactor& factor) {
  UncertaintyBudget variances;
  double per_factor = 0.0;
  double extrapolation = 0.0;
  for (std::size_t i = 0; i < sum.size(); ++i) {
    const Cell* cell = sum[i].cell;
    const double weight = sum[i].weight;
    variances.calibration += squared(weight * cell->per_unit * cell->own.calibration);
    variances.drift += squared(weight * cell->per_unit * cell->own.drift);
    variances.resolution += squared(weight * cell->per_unit * cell->own.resolution);
    variances.noise += squared(weight * cell->per_unit * cell->own.noise);
    per_factor += weight * cell->per_factor;
    extrapolation += weight * cell->extrapolation;
    const auto shares = [&](const Weighted& w) { return w.cell->thermometer == cell->thermometer; };
    const bool counted = std::any_of(sum.begin(), sum.begin() + static_cast<long>(i), shares);
    if (!cell->thermometer || counted)
      continue;
    double per_celsius = 0.0;
    for (const Weighted& each : sum)
      per_celsius += shares(each) ? each.weight * each.cell->per_celsius : 0.0;
    variances.temperature += squared(per_celsius * cell->temperature.without_noise());
    variances.noise += squared(per_celsius * cell->temperature.noise);
  }
  return {std::sqrt(variances.calibration), std::sqrt(variances.drift),
          std::sqrt(variances.resolution),  std::sqrt(variances.noise),
          std::sqrt(variances.temperature), std::abs(per_factor) * factor.standard_uncertainty,
          std::abs(extrapolation)};
}

void compare_cells(std::span<const Cell> cells, const SaltFactor& factor,
                   SalinityEstimate& estimate) {
  double worst_ratio = -1.0;
  for (std::size_t i = 0; i < cells.size(); ++i) {
    for (std::size_t j = i + 1; j < cells.size(); ++j) {
      const double difference = std::abs(cells[i].salinity - cells[j].salinity);
      const std::array both{Weighted{&cells[i], 1.0}, Weighted{&cells[j], -1.0}};
      const double allowed = two_sided_99_percent * budget_of(both, factor).total();
      const double ratio = difference / std::max(allowed, 1e-9);
      if (ratio <= worst_ratio)
        continue;
      worst_ratio = ratio;
      estimate.largest_difference = difference;
      estimate.allowed_difference = allowed;
      if (ratio > 1.0)
        estimate.disagreeing = {cells[i].probe, cells[j].probe};
    }
  }
}

// By calibration and drift alone: weights that moved with the noise would move the mean of cells
// that differ.
void combine(std::span<const Cell> cells, const SaltFactor& factor, SalinityEstimate& estimate) {
  std::vector<Weighted> mean;
  double weights = 0.0;
  for (const Cell& cell : cells) {
    const double u = cell.per_unit * std::hypot(cell.own.calibration, cell.own.drift);
    mean.push_back({&cell, 1.0 / std::max(u * u, 1e-12)});
    weights += mean.back().weight;
  }
  double value = 0.0;
  for (Weighted& each : mean) {
    each.weight /= weights;
    value += each.weight * each.cell->salinity;
    estimate.per_celsius += each.weight * each.cell->per_celsius;
  }
  estimate.value = PracticalSalinity(value);
  estimate.budget = budget_of(mean, factor);
  estimate.standard_uncertainty = estimate.budget.total();
  estimate.systematic_uncertainty = estimate.budget.systematic();
}

}  // namespace

double UncertaintyBudget::systematic() const {
  return std::sqrt(squared(calibration) + squared(drift) + squared(resolution) +
                   squared(temperature) + squared(salt_factor) + squared(extrapolation));
}

double UncertaintyBudget::total() const {
  return std::hypot(systematic(), noise);
}

SalinityEstimate estimate_salinity(std::span<const ProbeSpec> probes,
                                   std::span<const Reading> readings,
                                   std::span<const ProbeCondition> conditions,
                                   SaltFactor salt_factor) {
  const Inputs inputs{probes, readings, conditions, salt_factor};
  SalinityEstimate estimate;
  std::vector<Cell> cells;
  std::size_t configured = 0;
  for (std::size_t i = 0; i < probes.size(); ++i) {
    if (!is_salinity_cell(probes[i].measures))
      continue;
    ++configured;
    const auto cell = cell_of(i, inputs);
    if (!cell)
      continue;
    cells.push_back(*cell);
    const Weighted alone{&cells.back(), 1.0};
    estimate.cells.push_back({i, PracticalSalinity(cell->salinity),
                              budget_of({&alone, 1}, salt_factor), cell->per_celsius});
    estimate.taken = std::max(estimate.taken, readings[i].taken());
    estimate.simulated |= readings[i].simulated();
    if (cell->thermometer)
      estimate.simulated |= readings[*cell->thermometer].simulated();
  }
  estimate.complete = configured > 0 && cells.size() == configured;
  compare_cells(cells, salt_factor, estimate);
  if (estimate.complete)
    combine(cells, salt_factor, estimate);
  return estimate;
}

}  // namespace brinegate
