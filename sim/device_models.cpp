// SPDX-License-Identifier: Apache-2.0
#include "sim/device_models.h"

#include <algorithm>
#include <bit>
#include <cmath>
#include <limits>

namespace brinegate::sim {

using config::ModbusTable;

namespace {

constexpr std::uint16_t level_register = 4;
constexpr std::uint16_t timed_on_register = 16;
enum Coil : std::uint16_t { GatedPumpCoil, CirculationCoil, SecondCutoffCoil };
enum Discrete : std::uint16_t {
  PumpPowerContact,
  CirculationRunning,
  LeakContact,
  TankHighContact
};

// A 32-bit float over two registers, most significant first unless swapped.
RegisterValue float_word(const ChannelValue& channel, bool second) {
  if (!channel.shown)
    return {Access::NoAnswer, 0};
  const auto bits = std::bit_cast<std::uint32_t>(static_cast<float>(*channel.shown));
  const bool low = second != channel.words_swapped;
  return {Access::Done, static_cast<std::uint16_t>(low ? bits & 0xFFFF : bits >> 16)};
}

RegisterValue int16_word(const ChannelValue& channel) {
  if (!channel.shown)
    return {Access::NoAnswer, 0};
  using Limits = std::numeric_limits<std::int16_t>;
  const double held = std::clamp<double>(std::round(*channel.shown), Limits::min(), Limits::max());
  return {Access::Done, static_cast<std::uint16_t>(static_cast<std::int16_t>(held))};
}

}  // namespace

Duration answer_delay(AnswerFault fault) {
  switch (fault) {
    case AnswerFault::Late:
      return std::chrono::milliseconds(1500);
    case AnswerFault::Slow:
      return std::chrono::milliseconds(200);
    case AnswerFault::Silent:
    case AnswerFault::Exception:
    case AnswerFault::None:
      break;
  }
  return Duration::zero();
}

std::optional<Pdu> faulty_answer(ModbusUnit& unit, AnswerFault fault,
                                 std::span<const std::uint8_t> request, MonoTime now) {
  if (fault == AnswerFault::Silent || request.empty())
    return std::nullopt;
  if (fault == AnswerFault::Exception)
    return exception_answer(request[0], ModbusException::DeviceFailure);
  return answer(unit, request, now);
}

RegisterValue Transmitter::read(ModbusTable table, std::uint16_t address, MonoTime) const {
  const auto level = static_cast<std::size_t>(Channel::Level);
  if (table == ModbusTable::Holding && address == level_register)
    return int16_word(channels_[level]);
  if (table == ModbusTable::Input && address < 2 * level)
    return float_word(channels_[address / 2], address % 2 == 1);
  return {};
}

RegisterValue RelayBoard::read(ModbusTable table, std::uint16_t address, MonoTime now) const {
  if (table == ModbusTable::Coil) {
    switch (address) {
      case GatedPumpCoil:
        return single_bit(pump_coil(now));
      case CirculationCoil:
        return single_bit(circulating_);
      case SecondCutoffCoil:
        return single_bit(second_cutoff_);
      default:
        return {};
    }
  }
  if (table == ModbusTable::Discrete) {
    switch (address) {
      case PumpPowerContact:
        return single_bit(pump_has_power(now));
      case CirculationRunning:
        return single_bit(circulating_);
      case LeakContact:
        return single_bit(leak_);
      case TankHighContact:
        return single_bit(tank_high_);
      default:
        return {};
    }
  }
  if (table == ModbusTable::Holding && address == timed_on_register) {
    const auto end = lapses_at(now);
    const auto left = end ? (*end - now + timed_step - Duration(1)) / timed_step : 0;
    return {Access::Done, static_cast<std::uint16_t>(left)};
  }
  return {};
}

bool RelayBoard::can_write(ModbusTable table, std::uint16_t address) const {
  return table == ModbusTable::Coil ? address <= SecondCutoffCoil : address == timed_on_register;
}

void RelayBoard::write(ModbusTable table, std::uint16_t address, std::uint16_t value,
                       MonoTime now) {
  const bool on = value != 0;
  if (table == ModbusTable::Holding) {
    pump_plainly_on_ = false;
    pump_on_until_ = on ? std::optional(now + value * timed_step) : std::nullopt;
  } else if (address == GatedPumpCoil) {
    pump_plainly_on_ = on;
    pump_on_until_.reset();
  } else if (address == CirculationCoil) {
    circulating_ = on;
  } else {
    second_cutoff_ = on;
  }
}

bool RelayBoard::pump_coil(MonoTime now) const {
  return pump_plainly_on_ || lapses_at(now).has_value();
}

bool RelayBoard::pump_has_power(MonoTime now) const {
  return (pump_coil(now) || welded_) && second_cutoff_;
}

std::optional<MonoTime> RelayBoard::lapses_at(MonoTime now) const {
  return pump_on_until_ && *pump_on_until_ > now ? pump_on_until_ : std::nullopt;
}

}  // namespace brinegate::sim
