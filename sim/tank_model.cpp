// SPDX-License-Identifier: Apache-2.0
#include "sim/tank_model.h"

#include <algorithm>
#include <cmath>

namespace brinegate::sim {

using config::ModbusTable;

namespace {

constexpr Duration timed_step = std::chrono::milliseconds(100);
constexpr std::uint16_t first_timed_register = 16;
constexpr Litres topped_off_to{400.0};
constexpr Litres float_hysteresis{1.0};
enum Output : std::uint16_t { DrainOutput, HoldOffOutput, OutputCount };

}  // namespace

void TankModel::step(Duration dt, Litres filled, MonoTime now) {
  const Litres moved(drain_flow_.value() * seconds(dt) / 60.0);
  level_ += filled;
  if (drain_on(now)) {
    const Litres drained = std::min(moved, level_);
    level_ -= drained;
    drained_ += drained;
  }
  if (!held_off(now) && level_ < topped_off_to - float_hysteresis) {
    const Litres fresh = std::min(moved, topped_off_to - level_);
    level_ += fresh;
    topped_off_ += fresh;
  }
}

std::optional<MonoTime> TankModel::lapses_at(MonoTime now) const {
  std::optional<MonoTime> next;
  for (const Relay* relay : {&drain_, &hold_off_})
    if (relay->on_until && *relay->on_until > now && (!next || *relay->on_until < *next))
      next = relay->on_until;
  return next;
}

RegisterValue TankModel::read(ModbusTable table, std::uint16_t address, MonoTime now) const {
  const bool is_contact = table == ModbusTable::Coil || table == ModbusTable::Discrete;
  if (is_contact && address < OutputCount)
    return single_bit(address == DrainOutput ? drain_on(now) : held_off(now));
  if (table == ModbusTable::Holding && address == 0)
    return {Access::Done, static_cast<std::uint16_t>(std::lround(10.0 * level_.value()))};
  return {};
}

bool TankModel::can_write(ModbusTable table, std::uint16_t address) const {
  if (table == ModbusTable::Coil)
    return address < OutputCount;
  return address >= first_timed_register && address < first_timed_register + OutputCount;
}

void TankModel::write(ModbusTable table, std::uint16_t address, std::uint16_t value, MonoTime now) {
  const bool timed = table == ModbusTable::Holding;
  const int output = timed ? address - first_timed_register : address;
  Relay& relay = output == DrainOutput ? drain_ : hold_off_;
  relay.plainly_on = !timed && value != 0;
  relay.on_until = timed && value != 0 ? std::optional(now + value * timed_step) : std::nullopt;
}

}  // namespace brinegate::sim
