// SPDX-License-Identifier: Apache-2.0
#include "sim/rig.h"

#include <algorithm>

#include "rules/seawater.h"

namespace brinegate::sim {
namespace {

// Probes as delivered: each off by a little of its own (invented, half the standard uncertainty
// that the rules assume), fixed by the seed.
constexpr double gain_spread = 0.0025;
constexpr double temperature_spread = 0.05;

// The transmitter compensates with this; its register map says so.
constexpr LinearCompensation linear_compensation{Celsius(25.0), 0.02};

ProbeModel cell(const RigSpec& spec, const Reservoir& reservoir, Place place, Random& random) {
  ProbeTraits traits = conductivity_traits();
  traits.bubbles_per_hour = spec.bubbles_per_hour;
  traits.gain = normal(random, 1.0, gain_spread);
  return {traits, true_conductivity(reservoir, place).value()};
}

ProbeModel thermometer(const Reservoir& reservoir, Random& random) {
  ProbeTraits traits = temperature_traits();
  traits.offset = normal(random, 0.0, temperature_spread);
  return {traits, reservoir.temperature().value()};
}

}  // namespace

Rig::Rig(const RigSpec& spec, MonoTime now)
    : speed_(spec.speed),
      random_(spec.seed),
      reservoir_(spec.reservoir, Water{spec.volume, PracticalSalinity(0.0)}, spec.temperature),
      probes_{cell(spec, reservoir_, Place::Bulk, random_),
              cell(spec, reservoir_, Place::Corner, random_), thermometer(reservoir_, random_),
              ProbeModel(level_traits(), reservoir_.volume().value() * millimetres_per_litre)},
      tank_(spec.reservoir.pump_flow),
      now_(now) {
  publish_to_transmitter();
}

void Rig::advance(MonoTime now) {
  // A timed-on that ends on the way ends there, so that no draw is longer than its lease.
  for (auto lapse = next_lapse(); lapse && *lapse < now; lapse = next_lapse()) {
    step_physics(*lapse - now_);
    now_ = *lapse;
  }
  if (now <= now_)
    return;
  step_physics(now - now_);
  now_ = now;
  publish_to_transmitter();
}

std::optional<MonoTime> Rig::next_lapse() const {
  const auto pump = relays_.lapses_at(now_);
  const auto tank = tank_.lapses_at(now_);
  return pump && tank ? std::min(*pump, *tank) : pump ? pump : tank;
}

void Rig::step_physics(Duration real) {
  const Duration dt = from_seconds(seconds(real) * speed_);
  ReservoirInputs inputs;
  inputs.circulating = relays_.circulating();
  inputs.pumping = relays_.pump_has_power(now_) && pump_fault_ != PumpFault::Blocked;
  inputs.siphon = pump_fault_ == PumpFault::Siphon;
  const Litres drawn_before = reservoir_.drawn();
  reservoir_.step(dt, inputs);
  tank_.step(dt, reservoir_.drawn() - drawn_before, now_);
  physics_time_ += dt;
  const auto truth = truths();
  for (std::size_t i = 0; i < probes_.size(); ++i)
    probes_[i].step(dt, truth[i], random_);
}

std::array<double, probe_names.size()> Rig::truths() const {
  return {true_conductivity(reservoir_, Place::Bulk).value(),
          true_conductivity(reservoir_, Place::Corner).value(), reservoir_.temperature().value(),
          reservoir_.volume().value() * millimetres_per_litre};
}

void Rig::publish_to_transmitter() {
  const auto send = [&](Channel channel, Probe which) {
    transmitter_.set(channel,
                     {probe(which).shown(), probe(which).fault() == ProbeFault::WordSwapped});
  };
  send(Channel::CellA, Probe::CellA);
  send(Channel::CellB, Probe::CellB);
  send(Channel::Temperature, Probe::Temperature);
  send(Channel::Level, Probe::Level);

  const auto conductivity_shown = probe(Probe::CellA).shown();
  const auto temperature_shown = probe(Probe::Temperature).shown();
  ChannelValue value{std::nullopt, probe(Probe::CellA).fault() == ProbeFault::WordSwapped};
  if (conductivity_shown && temperature_shown)
    value.shown = compensated(MilliSiemensPerCm(*conductivity_shown), Celsius(*temperature_shown),
                              linear_compensation)
                      .value();
  transmitter_.set(Channel::CellACompensated, value);
}

std::optional<UnitAnswer> Rig::request(std::uint8_t unit, std::span<const std::uint8_t> pdu,
                                       MonoTime now) {
  advance(now);
  publish_to_transmitter();  // a fault set since the last advance shows at once
  const auto ask = [&](ModbusUnit& device, AnswerFault fault) -> std::optional<UnitAnswer> {
    auto answered = faulty_answer(device, fault, pdu, now_);
    if (!answered)
      return std::nullopt;
    return UnitAnswer{*std::move(answered), answer_delay(fault)};
  };
  if (unit == transmitter_unit)
    return ask(transmitter_, transmitter_fault_);
  if (unit == relay_unit)
    return ask(relays_, relay_fault_);
  if (unit == tank_unit)
    return ask(tank_, relay_fault_);
  return std::nullopt;
}

}  // namespace brinegate::sim
