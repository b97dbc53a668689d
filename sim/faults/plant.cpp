// SPDX-License-Identifier: Apache-2.0
#include "sim/faults/plant.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "rules/seawater.h"

namespace brinegate::sim {
namespace {

using namespace std::chrono_literals;

// Sizes of faults at their largest; invented.
constexpr double worst_factor = 0.12;
constexpr double worst_drift_per_hour = 0.02;
constexpr double worst_bath_error = 2.0;          // K
constexpr double share_of_pumps_unplugged = 0.5;  // of those that do not run
constexpr Celsius purified{21.0};

}  // namespace

Plant::Plant(const StationTraits& station, std::uint64_t seed)
    : station_(station),
      random_(seed ^ 0x706c616e74),  // apart from the plan's chance
      water_(station.reservoir, Water{station.capacity * 0.02, PracticalSalinity(0.0)},
             station.set_point),
      bath_(station.bath, station.set_point.value()),
      level_(station.level, water_.volume().value()) {
  for (std::size_t i = 0; i < station.cells; ++i)
    cells_.emplace_back(station.cell_traits[i], conducts_at(i));
  water_.set_heater(station.set_point);
}

double Plant::conducts_at(std::size_t cell) const {
  if (dipped_[cell]) {
    const Celsius at = water_.temperature();
    return conductivity(practical_salinity(*dipped_[cell], Celsius(25.0)), at).value();
  }
  const PracticalSalinity acts_as =
      std::min(water_.salinity() / station_.salt_factor, PracticalSalinity(60.0));
  return std::max(0.005, conductivity(acts_as, water_.temperature()).value());
}

void Plant::salt(Grams product) {
  SaltAddition addition;
  addition.product = product;
  addition.kind.dry_fraction = station_.dry_fraction;
  addition.slow_share = uniform(random_, 0.0, 0.2);
  addition.fast_time = from_seconds(uniform(random_, 60.0, 360.0));
  addition.slow_time = from_seconds(uniform(random_, 600.0, 4000.0));
  water_.add_salt(addition);
}

void Plant::drain() {
  water_ = Reservoir(station_.reservoir, Water{station_.capacity * 0.01, PracticalSalinity(0.0)},
                     water_.temperature());
  primed_ = false;
}

bool Plant::pump_powered(MonoTime now) const {
  const bool wanted = station_.permit == PermitMode::PerChange || system_runs_;
  const bool unplugged = faults_.has(FaultKind::PumpBlocked) &&
                         faults_.of(FaultKind::PumpBlocked) < share_of_pumps_unplugged;
  return relay_.pump_has_power(now) && wanted && !unplugged;
}

void Plant::apply(const ActiveFaults& faults) {
  faults_ = faults;
  relay_.set_welded(faults.has(FaultKind::RelayWelded));
  relay_.set_leak(faults.has(FaultKind::Leak));
  relay_.set_circulating(!faults.has(FaultKind::CirculationStops));
  water_.set_heater(faults.has(FaultKind::HeaterFails) ? std::nullopt
                                                       : std::optional(station_.set_point));
  const bool stuck = faults.has(FaultKind::CellStuck);
  cells_[0].set_fault(stuck ? ProbeFault::Flat : ProbeFault::None);
  level_.set_fault(faults.has(FaultKind::LevelStuck) ? ProbeFault::Flat : ProbeFault::None);
}

void Plant::step(Duration dt, MonoTime now, const ActiveFaults& faults) {
  apply(faults);
  if (faults.has(FaultKind::CellDrifts))
    drifted_ = std::max(0.8, drifted_ - worst_drift_per_hour * faults.of(FaultKind::CellDrifts) *
                                            seconds(dt) / 3600.0);
  ReservoirInputs devices;
  devices.circulating = relay_.circulating();
  const bool powered = pump_powered(now);
  devices.pumping = powered && !faults.has(FaultKind::PumpBlocked);
  // A line that can siphon does so only while somebody has left it under water.
  primed_ = devices.pumping || (primed_ && faults.has(FaultKind::Siphon));
  devices.siphon = faults.has(FaultKind::Siphon);
  pumping_ = devices.pumping;
  siphoning_ = primed_ && !devices.pumping && devices.siphon;
  if (faults.has(FaultKind::TopOff) && pumping_)
    water_.add_water(station_.pump_flow * (seconds(dt) / 60.0) / LitresPerMinute(1.0) *
                         Litres(0.3 + faults.of(FaultKind::TopOff)),
                     purified);
  water_.step(dt, devices);
  for (std::size_t i = 0; i < cells_.size(); ++i)
    cells_[i].step(dt, conducts_at(i), random_);
  bath_.step(dt, water_.temperature().value(), random_);
  level_.step(dt, water_.volume().value(), random_);
}

std::optional<double> Plant::shown(Instrument instrument) const {
  switch (instrument) {
    case Instrument::CellA:
      return *cells_[0].shown() * drifted_ *
             (faults_.has(FaultKind::CellWrongScale)
                  ? 1.0 + worst_factor * (2.0 * faults_.of(FaultKind::CellWrongScale) - 1.0)
                  : 1.0);
    case Instrument::CellB:
      return cells_[1].shown();
    case Instrument::Bath:
      return *bath_.shown() +
             (faults_.has(FaultKind::BathLies)
                  ? worst_bath_error * (2.0 * faults_.of(FaultKind::BathLies) - 1.0)
                  : 0.0);
    case Instrument::Level:
      return level_.shown();
    case Instrument::Flow:
      return pumping_     ? station_.pump_flow.value()
             : siphoning_ ? station_.reservoir.siphon_flow.value()
                          : 0.0;
    case Instrument::Circulation:
      return relay_.circulating() ? 1.0 : 0.0;
    case Instrument::ReadBack:
      return std::nullopt;  // asks for the time: station_life.cpp reads the relay
    case Instrument::Leak:
      return relay_.leak() ? 1.0 : 0.0;
  }
  return std::nullopt;
}

bool Plant::lies(std::size_t cell) const {
  const bool stuck_or_off =
      cell == 0 && (faults_.has(FaultKind::CellStuck) || faults_.has(FaultKind::CellWrongScale) ||
                    drifted_ != 1.0);
  return stuck_or_off || dipped_[cell] || calibrated_off_[cell] != 1.0;
}

// A cell needs its thermometer.
bool Plant::some_cell_is_honest() const {
  if (faults_.has(FaultKind::BathLies))
    return false;
  for (std::size_t i = 0; i < cells_.size(); ++i)
    if (!lies(i))
      return true;
  return false;
}

void Plant::calibrated(std::size_t cell, double factor, bool taken) {
  constexpr double as_good_as_right = 0.003;  // below the stated uncertainty of a fresh calibration
  const ProbeTraits& traits = station_.cell_traits[cell];
  const double expected = conducts_at(cell) * traits.gain + traits.offset;
  const double shows = shown(cell == 0 ? Instrument::CellA : Instrument::CellB).value_or(0.0);
  const bool disturbed = faults_.has(FaultKind::CellSpikes) ||
                         faults_.has(FaultKind::CellBubbles) || faults_.has(FaultKind::BathLies);
  const double off = factor * expected / std::max(shows, 1e-3);
  const bool right = !disturbed && std::abs(off - 1.0) < as_good_as_right;
  if (right && !taken)
    return;
  calibrated_off_[cell] = right ? 1.0 : off == 1.0 ? 1.0 + as_good_as_right : off;
}

Duration Plant::slowest_lag() const {
  Duration slowest{0};
  for (std::size_t i = 0; i < cells_.size(); ++i)
    slowest = std::max(slowest, station_.cell_traits[i].lag);
  return slowest;
}

void Plant::repair() {
  drifted_ = 1.0;
  primed_ = false;
  dipped_ = {};
}

}  // namespace brinegate::sim
