// SPDX-License-Identifier: Apache-2.0
#include "rules/acceptance.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include "rules/conformity.h"
#include "rules/seawater.h"

namespace brinegate {
namespace {

// Less is not worth a word.
constexpr double noticeable_psu = 0.01;

double shown_at_target(const ProbeSpec& probe, const Profile& profile, SaltFactor factor) {
  const Celsius t = 0.5 * (profile.temperature_low + profile.temperature_high);
  const PracticalSalinity implied = profile.target / factor.value;
  switch (probe.measures) {
    case Measures::Conductivity:
      return conductivity(implied, t).value();
    case Measures::CompensatedConductivity:
      return compensated(conductivity(implied, t), t, probe.compensation).value();
    case Measures::Salinity:
      return implied.value();
    case Measures::SpecificGravity:
      return specific_gravity(profile.target, probe.gravity);
    case Measures::Temperature:
      return t.value();
    default:
      return 0.0;
  }
}

struct Instruments {
  std::vector<ProbeSpec> probes;
  std::vector<ProbeCondition> conditions;
  SaltFactor salt_factor;
};

SalinityEstimate at_target(const Instruments& instruments, const Profile& profile) {
  return estimate_at_target(instruments.probes, instruments.conditions, instruments.salt_factor,
                            profile);
}

std::optional<PracticalSalinity> half_width(double uncertainty, PracticalSalinity tolerance,
                                            double risk) {
  const auto zone = acceptance_limits(-tolerance.value(), tolerance.value(), uncertainty, risk);
  return zone ? std::optional(PracticalSalinity(zone->second)) : std::nullopt;
}

// The cell that knows the salinity best, once more.
Instruments with_second_cell(const Instruments& instruments, const SalinityEstimate& estimate) {
  const auto best = std::min_element(estimate.cells.begin(), estimate.cells.end(),
                                     [](const CellEstimate& a, const CellEstimate& b) {
                                       return a.budget.systematic() < b.budget.systematic();
                                     });
  Instruments more = instruments;
  more.probes.push_back(instruments.probes[best->probe]);
  more.conditions.push_back(instruments.conditions[best->probe]);
  return more;
}

// Twice the guard band of one limit, from which the other is then far.
PracticalSalinity half_left(double uncertainty, double risk) {
  return PracticalSalinity(2.0 *
                           acceptance_limits(0.0, 100.0 * uncertainty, uncertainty, risk)->first);
}

}  // namespace

SalinityEstimate estimate_at_target(std::span<const ProbeSpec> probes,
                                    std::span<const ProbeCondition> conditions,
                                    SaltFactor salt_factor, const Profile& profile) {
  std::vector<Reading> readings;
  for (const ProbeSpec& probe : probes)
    readings.push_back(
        Reading::good(shown_at_target(probe, profile, salt_factor), MonoTime{}, false));
  return estimate_salinity(probes, readings, conditions, salt_factor);
}

std::optional<Acceptance> acceptance(std::span<const ProbeSpec> probes,
                                     std::span<const ProbeCondition> conditions,
                                     SaltFactor salt_factor, const Profile& profile) {
  Instruments now{
      {probes.begin(), probes.end()}, {conditions.begin(), conditions.end()}, salt_factor};
  now.conditions.resize(probes.size());
  const SalinityEstimate estimate = at_target(now, profile);
  if (!estimate.value)
    return std::nullopt;
  const double u = estimate.systematic_uncertainty;
  Acceptance result{
      estimate.budget, profile.tolerance, half_width(u, profile.tolerance, profile.risk), {}};
  const auto offer = [&](Widening by, double uncertainty, PracticalSalinity tolerance) {
    const auto wider = half_width(uncertainty, tolerance, profile.risk);
    const double before = result.half_width ? result.half_width->value() : -noticeable_psu;
    if (wider && wider->value() >= before + noticeable_psu)
      result.wider.push_back({by, *wider, tolerance});
  };
  Instruments fresh = now;
  for (ProbeCondition& condition : fresh.conditions)
    condition.days_since_calibration = 0.0;
  Instruments measured = now;
  measured.salt_factor.standard_uncertainty =
      std::min(salt_factor.standard_uncertainty, usual_factor_uncertainty * salt_factor.value);
  const auto known_by = [&](const Instruments& instruments) {
    return at_target(instruments, profile).systematic_uncertainty;
  };
  const double dose = weighed_salt_uncertainty * profile.target.value();
  offer(Widening::FreshCalibration, known_by(fresh), profile.tolerance);
  offer(Widening::SecondCell, known_by(with_second_cell(now, estimate)), profile.tolerance);
  offer(Widening::WeighedSalt, u * dose / std::hypot(u, dose), profile.tolerance);
  offer(Widening::MeasuredSaltFactor, known_by(measured), profile.tolerance);
  offer(Widening::WiderTolerance, u, std::max(profile.tolerance, half_left(u, profile.risk)));
  std::stable_sort(result.wider.begin(), result.wider.end(),
                   [](const auto& a, const auto& b) { return a.half_width > b.half_width; });
  return result;
}

}  // namespace brinegate
