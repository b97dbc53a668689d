// SPDX-License-Identifier: Apache-2.0
// The two Modbus devices of the rig: the transmitter that serves the probes and the relay board
// that switches the pumps. Time is an argument; README.md has the register map.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>

#include "rules/time.h"
#include "sim/modbus_pdu.h"

namespace brinegate::sim {

// How a device answers, whatever it is asked.
enum class AnswerFault {
  Silent,
  Late,       // after every sensible time-out, so the answer meets a later request
  Exception,  // device failure (04) to everything
  Slow,       // within a usual time-out
  None,
};

// How long a device with this fault takes to answer, beyond the line's own time.
Duration answer_delay(AnswerFault fault);

// What `unit` answers under this fault. A silent or failed device does not act on writes either.
std::optional<Pdu> faulty_answer(ModbusUnit& unit, AnswerFault fault,
                                 std::span<const std::uint8_t> request, MonoTime now);

enum class Channel : std::size_t { CellA, Temperature, CellB, CellACompensated, Level };
inline constexpr std::size_t channel_table = 5;

struct ChannelValue {
  std::optional<double> shown;  // none: reads of it stay unanswered
  bool words_swapped = false;   // sent CDAB in place of ABCD
};

class Transmitter : public ModbusUnit {
 public:
  void set(Channel channel, ChannelValue value) {
    channels_[static_cast<std::size_t>(channel)] = value;
  }

  [[nodiscard]] RegisterValue read(config::ModbusTable table, std::uint16_t address,
                                   MonoTime now) const override;
  [[nodiscard]] bool can_write(config::ModbusTable /*table*/,
                               std::uint16_t /*address*/) const override {
    return false;
  }
  void write(config::ModbusTable /*table*/, std::uint16_t /*address*/, std::uint16_t /*value*/,
             MonoTime /*now*/) override {}

 private:
  std::array<ChannelValue, channel_table> channels_;
};

class RelayBoard : public ModbusUnit {
 public:
  // Duration of one count of the timed-on register.
  static constexpr Duration timed_step = std::chrono::milliseconds(100);

  [[nodiscard]] RegisterValue read(config::ModbusTable table, std::uint16_t address,
                                   MonoTime now) const override;
  [[nodiscard]] bool can_write(config::ModbusTable table, std::uint16_t address) const override;
  void write(config::ModbusTable table, std::uint16_t address, std::uint16_t value,
             MonoTime now) override;

  // The pump relay's coil, whatever its contact does.
  [[nodiscard]] bool pump_coil(MonoTime now) const;
  // Power at the pump: the contact closed (a welded one always is) and the second cut-off on.
  [[nodiscard]] bool pump_has_power(MonoTime now) const;
  // When a running timed-on ends; none where the coil is off or plainly on.
  [[nodiscard]] std::optional<MonoTime> lapses_at(MonoTime now) const;

  [[nodiscard]] bool second_cutoff() const { return second_cutoff_; }
  [[nodiscard]] bool circulating() const { return circulating_; }
  [[nodiscard]] bool welded() const { return welded_; }
  [[nodiscard]] bool leak() const { return leak_; }
  [[nodiscard]] bool tank_high() const { return tank_high_; }

  void set_circulating(bool on) { circulating_ = on; }
  void set_second_cutoff(bool on) { second_cutoff_ = on; }
  void set_welded(bool welded) { welded_ = welded; }
  void set_leak(bool wet) { leak_ = wet; }
  void set_tank_high(bool high) { tank_high_ = high; }

 private:
  bool pump_plainly_on_ = false;
  std::optional<MonoTime> pump_on_until_;
  bool second_cutoff_ = true;
  bool circulating_ = true;
  bool welded_ = false;
  bool leak_ = false;
  bool tank_high_ = false;
};

}  // namespace brinegate::sim
