// SPDX-License-Identifier: Apache-2.0
// Each process is solved exactly over a short step and the processes follow one another; what is
// moved is taken from one account and put into another, so salt and water are conserved.
#include "sim/reservoir.h"

#include <algorithm>
#include <cassert>
#include <cmath>

#include "rules/seawater.h"

namespace brinegate::sim {
namespace {

constexpr Duration longest_step = std::chrono::seconds(10);
// Halite's density; only how far undissolved crystals raise the level depends on it.
constexpr double crystal_grams_per_litre = 2160.0;
// In still water crystals dissolve this much slower (invented), and only into the water around
// them, until that nears a salinity at which the sea water equations still mean something.
constexpr double still_rate = 0.1;
constexpr PracticalSalinity still_limit{60.0};
constexpr double crumb_grams = 1e-6;  // smaller rests count as dissolved

// The share that a first-order process covers in dt.
double covered(Duration dt, Duration time_constant) {
  return -std::expm1(-seconds(dt) / seconds(time_constant));
}

double grams_per_litre(PracticalSalinity salinity, Celsius temperature) {
  return density(salinity, temperature).value();  // kg/m3 is g/L
}

}  // namespace

PracticalSalinity Reservoir::Solution::salinity() const {
  if (mass() <= 0.0)
    return PracticalSalinity(0.0);
  return practical_salinity(ReferenceSalinity(1000.0 * salt / mass()));
}

Litres Reservoir::Solution::volume(Celsius temperature) const {
  return Litres(mass() / grams_per_litre(salinity(), temperature));
}

Reservoir::Solution Reservoir::Solution::take(double share) {
  const Solution taken{water * share, salt * share};
  water -= taken.water;
  salt -= taken.salt;
  return taken;
}

void Reservoir::Solution::add(const Solution& other) {
  water += other.water;
  salt += other.salt;
}

Reservoir::Reservoir(const ReservoirSpec& spec, Water contents, Celsius temperature)
    : spec_(spec), temperature_(temperature) {
  assert(spec.corner_share >= 0.0 && spec.corner_share < 1.0);
  const double mass = contents.volume.value() * grams_per_litre(contents.salinity, temperature);
  bulk_.salt = mass * reference_salinity(contents.salinity).value() / 1000.0;
  bulk_.water = mass - bulk_.salt;
  added_salt_ = bulk_.salt;
  corner_ = bulk_.take(spec.corner_share);
}

void Reservoir::add_water(Litres fresh, Celsius temperature) {
  assert(fresh.value() >= 0.0);
  const double added = fresh.value() * grams_per_litre(PracticalSalinity(0.0), temperature);
  const double before = bulk_.mass() + corner_.mass();
  if (before + added > 0.0)
    temperature_ = (temperature_ * before + temperature * added) / (before + added);
  bulk_.water += added;
}

void Reservoir::add_salt(const SaltAddition& addition) {
  assert(addition.product.value() >= 0.0);
  const double salt = addition.product.value() * addition.kind.dry_fraction;
  Solution whole{addition.product.value() - salt, salt};
  added_salt_ += salt;
  const Solution slow = whole.take(addition.slow_share);
  crystals_.push_back({whole, addition.fast_time, addition.lets_go_after});
  crystals_.push_back({slow, addition.slow_time, addition.lets_go_after});
}

Reservoir::Solution Reservoir::take_from_bulk(Litres volume) {
  const Litres available = bulk_.volume(temperature_);
  if (available.value() <= 0.0)
    return {};
  return bulk_.take(std::min(1.0, volume / available));
}

Litres Reservoir::remove(Litres volume) {
  assert(volume.value() >= 0.0);
  const Solution taken = take_from_bulk(volume);
  removed_salt_ += taken.salt;
  return taken.volume(temperature_);
}

void Reservoir::step(Duration dt, const ReservoirInputs& inputs) {
  assert(dt >= Duration::zero());
  while (dt > Duration::zero()) {
    const Duration slice = std::min(dt, longest_step);
    dissolve(slice, inputs.circulating);
    if (inputs.circulating)
      exchange_with_corner(slice);
    settle_temperature(slice);
    evaporate(slice);
    draw(slice, inputs);
    dt -= slice;
  }
}

void Reservoir::dissolve(Duration dt, bool circulating) {
  Solution& around = circulating ? bulk_ : corner_;
  const double rate =
      circulating ? 1.0 : still_rate * std::max(0.0, 1.0 - corner_.salinity() / still_limit);
  if (around.water <= 0.0)
    return;
  for (Crystals& part : crystals_) {
    const Duration waited = std::min(part.lets_go_in, dt);
    part.lets_go_in -= waited;
    const double share = covered(from_seconds(rate * seconds(dt - waited)), part.time_constant);
    around.add(part.grams.take(part.grams.mass() < crumb_grams ? 1.0 : share));
  }
  std::erase_if(crystals_, [](const Crystals& part) { return part.grams.mass() <= 0.0; });
}

void Reservoir::exchange_with_corner(Duration dt) {
  const double share = covered(dt, spec_.corner_exchange);
  const double wanted = spec_.corner_share * (bulk_.mass() + corner_.mass());
  const Solution out = corner_.take(share);
  if (bulk_.mass() > 0.0)
    corner_.add(bulk_.take(std::min(1.0, share * wanted / bulk_.mass())));
  bulk_.add(out);
}

void Reservoir::settle_temperature(Duration dt) {
  const Celsius toward = heater_.value_or(spec_.room);
  const Duration time_constant = heater_ ? spec_.heater_time : spec_.room_time;
  temperature_ += (toward - temperature_) * covered(dt, time_constant);
}

void Reservoir::evaporate(Duration dt) {
  const double lost = spec_.evaporation_grams_per_hour * seconds(dt) / 3600.0;
  bulk_.water = std::max(0.0, bulk_.water - lost);
}

void Reservoir::draw(Duration dt, const ReservoirInputs& inputs) {
  line_primed_ = inputs.pumping || (line_primed_ && inputs.siphon && bulk_.mass() > 0.0);
  if (!line_primed_)
    return;
  const LitresPerMinute flow = inputs.pumping ? spec_.pump_flow : spec_.siphon_flow;
  const Solution taken = take_from_bulk(Litres(flow.value() * seconds(dt) / 60.0));
  drawn_ += taken.volume(temperature_);
  tank_.add(taken);
}

PracticalSalinity Reservoir::salinity() const {
  return bulk_.salinity();
}

PracticalSalinity Reservoir::corner_salinity() const {
  return corner_.mass() > 0.0 ? corner_.salinity() : bulk_.salinity();
}

PracticalSalinity Reservoir::final_salinity() const {
  Solution all = bulk_;
  all.add(corner_);
  for (const Crystals& part : crystals_)
    all.add(part.grams);
  return all.salinity();
}

Litres Reservoir::volume() const {
  return bulk_.volume(temperature_) + corner_.volume(temperature_) +
         Litres(undissolved().value() / crystal_grams_per_litre);
}

Grams Reservoir::undissolved() const {
  double grams = 0.0;
  for (const Crystals& part : crystals_)
    grams += part.grams.mass();
  return Grams(grams);
}

Grams Reservoir::undissolved_salt() const {
  double grams = 0.0;
  for (const Crystals& part : crystals_)
    grams += part.grams.salt;
  return Grams(grams);
}

PracticalSalinity Reservoir::drawn_salinity() const {
  return tank_.salinity();
}

}  // namespace brinegate::sim
