// SPDX-License-Identifier: Apache-2.0
// Closed forms of the balance of salt and total mass; density enters only where litres become
// grams.
#include "rules/mass_balance.h"

#include <algorithm>
#include <cmath>
#include <optional>
#include <string>

#include <fmt/format.h>

#include "rules/seawater.h"

namespace brinegate {
namespace {

constexpr PracticalSalinity fresh{0.0};
constexpr PracticalSalinity saltiest{60.0};
constexpr PracticalSalinity same_salinity{1e-9};
constexpr double same_amount = 1e-9;  // litres or grams that are rounding only

// Salt as a share of the mass of the water.
double salt_share(PracticalSalinity salinity) {
  return reference_salinity(salinity).value() / 1000.0;
}

double grams_per_litre(PracticalSalinity salinity, Celsius temperature) {
  return density(salinity, temperature).value();  // kg/m³ is g/L
}

// What is in a vessel, by mass.
struct Contents {
  Grams total;
  Grams salt;

  Contents operator+(const Contents& other) const {
    return {total + other.total, salt + other.salt};
  }
};

Contents contents(Water water, Celsius temperature) {
  const Grams total(std::max(0.0, water.volume.value()) *
                    grams_per_litre(water.salinity, temperature));
  return {total, total * salt_share(water.salinity)};
}

Contents contents(Grams product, SaltProduct salt) {
  const Grams total = std::max(product, Grams(0.0));
  return {total, total * salt.dry_fraction};
}

Water water_of(const Contents& c, Celsius temperature) {
  if (c.total <= Grams(0.0))
    return {};
  const PracticalSalinity salinity =
      practical_salinity(ReferenceSalinity(1000.0 * (c.salt / c.total)));
  return {Litres(c.total.value() / grams_per_litre(salinity, temperature)), salinity};
}

// Product that brings these contents to `target`; negative where they are saltier.
Grams product_for(const Contents& c, PracticalSalinity target, SaltProduct salt) {
  const double share = salt_share(target);
  return (c.total * share - c.salt) / (salt.dry_fraction - share);
}

std::string ppt(PracticalSalinity salinity) {
  return fmt::format("{:.2f} ppt", reference_salinity(salinity).value());
}

bool lies_within(double value, double low, double high) {
  return value >= low && value <= high;  // false for NaN
}

std::optional<Error> wrong_volume(const char* what, Litres volume) {
  if (lies_within(volume.value(), 0.0, 1e9))
    return std::nullopt;
  return Error{fmt::format("the volume of {} is {} L: give 0 L or more", what, volume.value())};
}

std::optional<Error> wrong_water(const char* what, Water water) {
  if (auto error = wrong_volume(what, water.volume))
    return error;
  if (lies_within(water.salinity.value(), fresh.value(), saltiest.value()))
    return std::nullopt;
  return Error{fmt::format("the salinity of {} is {} PSU: give 0 to {} PSU", what,
                           water.salinity.value(), saltiest.value())};
}

std::optional<Error> wrong_recipe(PracticalSalinity target, SaltProduct salt, Celsius temperature) {
  if (!lies_within(target.value(), fresh.value(), saltiest.value()))
    return Error{fmt::format("the target salinity is {} PSU: give 0 to {} PSU", target.value(),
                             saltiest.value())};
  if (!(salt.dry_fraction > 0.2 && salt.dry_fraction <= 1.0))
    return Error{
        fmt::format("the dry fraction of the salt is {}: give a share above 0.2 and up "
                    "to 1, 0.93 where nothing is known",
                    salt.dry_fraction)};
  if (!lies_within(temperature.value(), 0.0, 40.0))
    return Error{fmt::format("the temperature is {} °C: densities are known from 0 to 40 °C",
                             temperature.value())};
  return std::nullopt;
}

Error too_salty(const char* what, PracticalSalinity found, PracticalSalinity target) {
  return Error{
      fmt::format("{} already come to {}, more than the target of {}: add more fresh "
                  "water or take out some of the rest",
                  what, ppt(found), ppt(target))};
}

// The last rounding error of a balance must not turn into a refusal.
template <class Q>
Q without_rounding(Q amount) {
  return std::abs(amount.value()) <= same_amount ? Q(0.0) : amount;
}

Correction add_salt(Water batch, Litres remove, PracticalSalinity target, SaltProduct salt,
                    Celsius temperature) {
  const Water kept{batch.volume - remove, batch.salinity};
  const Grams product = product_for(contents(kept, temperature), target, salt);
  return {CorrectionAction::AddSalt,
          product,
          Litres(0.0),
          remove,
          mixed(kept, Litres(0.0), product, salt, temperature),
          {},
          false};
}

// What to take out so that the salted rest ends at the capacity.
Litres room_for_salt(Water batch, PracticalSalinity target, Litres capacity, SaltProduct salt,
                     Celsius temperature) {
  const Grams after(capacity.value() * grams_per_litre(target, temperature));
  const Grams kept = after * ((salt.dry_fraction - salt_share(target)) /
                              (salt.dry_fraction - salt_share(batch.salinity)));
  return batch.volume - Litres(kept.value() / grams_per_litre(batch.salinity, temperature));
}

Correction dilute(Water batch, Litres remove, PracticalSalinity target, Celsius temperature) {
  const Water kept{batch.volume - remove, batch.salinity};
  const double dilution = salt_share(batch.salinity) / salt_share(target) - 1.0;
  const Litres water(contents(kept, temperature).total.value() * dilution /
                     grams_per_litre(fresh, temperature));
  return {remove > Litres(0.0) ? CorrectionAction::ReplaceWithWater : CorrectionAction::AddWater,
          Grams(0.0),
          water,
          remove,
          mixed(kept, water, Grams(0.0), {}, temperature),
          {},
          false};
}

// What to take out so that the diluted rest ends at `volume_after`.
Litres room_for_water(Water batch, PracticalSalinity target, Litres volume_after,
                      Celsius temperature) {
  const Grams after(volume_after.value() * grams_per_litre(target, temperature));
  const Grams kept = after * (salt_share(target) / salt_share(batch.salinity));
  return batch.volume - Litres(kept.value() / grams_per_litre(batch.salinity, temperature));
}

// How sure it is where a correction lands that is carried out as computed.
PracticalSalinity landing_uncertainty(const Correction& way, Water batch, SaltProduct salt,
                                      Celsius temperature, WaterUncertainty uncertainty) {
  const auto moves_it = [&](Water truly, SaltProduct product) {
    truly.volume -= way.remove;
    const Water after = mixed(truly, way.water, way.salt, product, temperature);
    return (after.salinity - way.after.salinity).value();
  };
  Water more = batch;
  more.volume += uncertainty.volume;
  Water saltier = batch;
  saltier.salinity += uncertainty.salinity;
  SaltProduct drier = salt;
  drier.dry_fraction *= 1.0 + salt.dry_fraction_uncertainty;
  return PracticalSalinity(
      std::hypot(moves_it(more, salt), moves_it(saltier, salt), moves_it(batch, drier)));
}

}  // namespace

Result<Dose> dose_for_water(Litres water, Water rest, PracticalSalinity target, SaltProduct salt,
                            Celsius temperature) {
  if (auto error = wrong_volume("the fresh water", water))
    return *error;
  if (auto error = wrong_water("what is left of the last batch", rest))
    return *error;
  if (auto error = wrong_recipe(target, salt, temperature))
    return *error;
  const Contents before = contents({water, fresh}, temperature) + contents(rest, temperature);
  const Grams product = without_rounding(product_for(before, target, salt));
  if (product < Grams(0.0))
    return too_salty("the fresh water and the rest", water_of(before, temperature).salinity,
                     target);
  return Dose{product, water, mixed(rest, water, product, salt, temperature).volume};
}

Result<Dose> dose_for_volume(Litres volume_after, Water rest, PracticalSalinity target,
                             SaltProduct salt, Celsius temperature) {
  if (auto error = wrong_volume("the finished batch", volume_after))
    return *error;
  if (auto error = wrong_water("what is left of the last batch", rest))
    return *error;
  if (auto error = wrong_recipe(target, salt, temperature))
    return *error;
  const Contents before = contents(rest, temperature);
  const Contents after = contents({volume_after, target}, temperature);
  const Grams product = without_rounding((after.salt - before.salt) / salt.dry_fraction);
  const Litres water = without_rounding(
      Litres((after.total - before.total - product).value() / grams_per_litre(fresh, temperature)));
  if (product < Grams(0.0))
    return Error{
        fmt::format("what is left of the last batch holds more salt than {:.2f} L at {} "
                    "may: take out some of it",
                    volume_after.value(), ppt(target))};
  if (water < Litres(0.0))
    return Error{
        fmt::format("what is left of the last batch leaves no room to bring it to {} "
                    "within {:.2f} L: take out some of it or allow more volume",
                    ppt(target), volume_after.value())};
  return Dose{product, water, volume_after};
}

Water blended(Water a, Water b, Celsius temperature) {
  return water_of(contents(a, temperature) + contents(b, temperature), temperature);
}

Water mixed(Water rest, Litres water, Grams salt, SaltProduct product, Celsius temperature) {
  return water_of(
      contents(rest, temperature) + contents({water, fresh}, temperature) + contents(salt, product),
      temperature);
}

Result<std::vector<Correction>> corrections(Water batch, PracticalSalinity target, Litres capacity,
                                            SaltProduct salt, Celsius temperature,
                                            WaterUncertainty uncertainty) {
  if (auto error = wrong_water("the batch", batch))
    return *error;
  if (auto error = wrong_volume("the full reservoir", capacity))
    return *error;
  if (auto error = wrong_recipe(target, salt, temperature))
    return *error;
  if (batch.volume <= Litres(0.0) || capacity <= Litres(0.0))
    return Error{"there is no batch to correct: give its volume and the reservoir's, above 0 L"};
  const Litres none(0.0);
  const PracticalSalinity excess = batch.salinity - target;
  std::vector<Correction> ways;
  if (excess < -same_salinity) {
    ways.push_back(add_salt(batch, none, target, salt, temperature));
    const Litres remove = room_for_salt(batch, target, capacity, salt, temperature);
    if (remove > Litres(same_amount))
      ways.push_back(add_salt(batch, remove, target, salt, temperature));
  } else if (excess > same_salinity) {
    if (target <= same_salinity)
      return Error{"salt water cannot be diluted to 0: give a target above 0 PSU"};
    ways.push_back(dilute(batch, none, target, temperature));
    const Litres after = std::min(batch.volume, capacity);
    ways.push_back(
        dilute(batch, room_for_water(batch, target, after, temperature), target, temperature));
  }
  for (Correction& way : ways) {
    way.standard_uncertainty = landing_uncertainty(way, batch, salt, temperature, uncertainty);
    way.fits = way.after.volume <= capacity + Litres(same_amount);
  }
  std::stable_partition(ways.begin(), ways.end(), [](const Correction& way) { return way.fits; });
  return ways;
}

}  // namespace brinegate
