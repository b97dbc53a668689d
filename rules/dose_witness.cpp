// SPDX-License-Identifier: Apache-2.0
#include "rules/dose_witness.h"

#include <algorithm>
#include <cmath>

#include "rules/seawater.h"
#include "rules/statistics.h"

namespace brinegate {
namespace {

constexpr double small_rest = 0.1;  // as a share of all salt

std::optional<ProbeUncertainty> level_uncertainty(const StationSpec& station) {
  for (const ProbeSpec& probe : station.probes)
    if (probe.measures == Measures::Level)
      return probe.uncertainty;
  return std::nullopt;
}

// What was noted, put together: litres do not add up where salt goes in.
Litres noted_volume(const Batch& batch, Celsius temperature) {
  const Litres none(0.0);
  if (batch.rest + batch.water_noted <= none)
    return none;  // salt without water
  const Water rest{batch.rest + std::min(none, batch.water_noted), batch.rest_salinity};
  const Water all =
      mixed(rest, std::max(none, batch.water_noted), batch.salt, batch.product, temperature);
  return all.volume - batch.drawn;
}

double salinity_per_gram_per_litre(PracticalSalinity salinity, Celsius temperature) {
  const PracticalSalinity step(0.01);
  return step.value() / (salt_grams_per_litre(salinity + step, temperature) -
                         salt_grams_per_litre(salinity, temperature));
}

bool agree(const DoseWitness& dose, const Uncertain<PracticalSalinity>& measured) {
  const PracticalSalinity apart = measured.value - dose.predicted.value;
  return std::abs(apart.value()) <= allowed_difference(dose, measured).value();
}

// What was said, what would have to be true instead, and the standard uncertainty of the former.
DoseExplanation explanation(DoseSuspect suspect, double said, double truth, double uncertainty) {
  const double amount = truth - said;
  return {suspect, amount, amount / said, std::abs(amount) / uncertainty};
}

}  // namespace

std::optional<BatchVolume> volume_of(const Batch& batch, std::optional<Litres> level,
                                     Celsius temperature, const StationSpec& station) {
  const auto of_level = level_uncertainty(station);
  const bool by_level = level && of_level;
  const Litres volume = by_level ? *level : noted_volume(batch, temperature);
  if (!(volume.value() > 0.0))
    return std::nullopt;
  const Litres uncertainty =
      by_level ? Litres(std::hypot(of_level->absolute, of_level->relative * volume.value()))
               : volume * noted_litres_uncertainty;
  return BatchVolume{{volume, uncertainty}, by_level};
}

std::optional<DoseWitness> dose_witness(const Batch& batch, std::optional<Litres> level,
                                        std::optional<Celsius> temperature,
                                        const StationSpec& station) {
  if (!batch.in_progress() || !batch.salt_noted || !temperature)
    return std::nullopt;
  const auto volume = volume_of(batch, level, *temperature, station);
  if (!volume)
    return std::nullopt;
  // What was taken out since took of both alike.
  const Grams of_product = batch.salt * batch.product.dry_fraction;
  const Grams of_rest(batch.rest.value() * salt_grams_per_litre(batch.rest_salinity, *temperature));
  const Grams all = of_product + of_rest;
  const double product_share = all > Grams(0.0) ? of_product / all : 0.0;

  DoseWitness dose;
  dose.salt = batch.salt;
  dose.dry_salt = std::max(Grams(0.0), batch.dry_salt);
  dose.dry_part = dose.dry_salt * product_share;
  dose.product = batch.product;
  dose.volume = *volume;
  dose.temperature = *temperature;
  dose.independent = !batch.product.learned && 1.0 - product_share <= small_rest;

  const Litres litres = volume->litres.value;
  const double grams_per_litre = dose.dry_salt.value() / litres.value();
  const PracticalSalinity predicted = salinity_of_grams_per_litre(grams_per_litre, *temperature);
  const auto moved_by = [&](double relative) {  // the predicted salinity, by such a share of salt
    return PracticalSalinity(relative * grams_per_litre *
                             salinity_per_gram_per_litre(predicted, *temperature));
  };
  dose.from_weight = moved_by(weighing_uncertainty * product_share);
  dose.from_volume = moved_by(volume->litres.standard_uncertainty / litres);
  dose.from_yield = moved_by(batch.product.dry_fraction_uncertainty * product_share);
  dose.from_rest = moved_by(noted_litres_uncertainty * (1.0 - product_share));
  dose.predicted = {predicted, PracticalSalinity(std::hypot(
                                   std::hypot(dose.from_weight.value(), dose.from_volume.value()),
                                   dose.from_yield.value(), dose.from_rest.value()))};
  return dose;
}

PracticalSalinity allowed_difference(const DoseWitness& dose,
                                     const Uncertain<PracticalSalinity>& measured) {
  return PracticalSalinity(two_sided_99_percent *
                           std::hypot(dose.predicted.standard_uncertainty.value(),
                                      measured.standard_uncertainty.value()));
}

std::vector<DoseExplanation> explanations(const DoseWitness& dose,
                                          const Uncertain<PracticalSalinity>& measured) {
  if (agree(dose, measured))
    return {};
  const double said = measured.value.value();
  const PracticalSalinity expected = dose.predicted.value;
  std::vector<DoseExplanation> found{explanation(DoseSuspect::Probe, said, expected.value(),
                                                 measured.standard_uncertainty.value())};
  const double grams_per_litre = salt_grams_per_litre(measured.value, dose.temperature);
  const Litres litres = dose.volume.litres.value;
  if (grams_per_litre > 0.0 && dose.dry_salt > Grams(0.0))
    found.push_back(explanation(DoseSuspect::Volume, litres.value(),
                                dose.dry_salt.value() / grams_per_litre,
                                dose.volume.litres.standard_uncertainty.value()));
  // By this share the product noted must have brought more dry salt.
  const Grams missing = Grams(grams_per_litre * litres.value()) - dose.dry_salt;
  const double relative = missing / dose.dry_part;
  if (dose.dry_part > Grams(0.0) && relative > -1.0) {
    const double salt = dose.salt.value();
    found.push_back(explanation(DoseSuspect::Weight, salt, salt * (1.0 + relative),
                                salt * weighing_uncertainty));
    const double dry = dose.product.dry_fraction;
    if (dry * (1.0 + relative) <= 1.0)
      found.push_back(explanation(DoseSuspect::Yield, dry, dry * (1.0 + relative),
                                  dry * dose.product.dry_fraction_uncertainty));
  }
  std::stable_sort(found.begin(), found.end(),
                   [](const DoseExplanation& a, const DoseExplanation& b) {
                     return a.times_uncertainty < b.times_uncertainty;
                   });
  return found;
}

Uncertain<PracticalSalinity> fused(const Uncertain<PracticalSalinity>& cells,
                                   const DoseWitness& dose) {
  const double of_cells = cells.standard_uncertainty.value();
  const double of_dose = dose.predicted.standard_uncertainty.value();
  const double apart = std::hypot(of_cells, of_dose);
  if (!dose.independent || !agree(dose, cells) || apart <= 0.0)
    return cells;
  const double weight_of_dose = (of_cells / apart) * (of_cells / apart);
  return {cells.value + weight_of_dose * (dose.predicted.value - cells.value),
          PracticalSalinity(of_cells * of_dose / apart)};
}

}  // namespace brinegate
