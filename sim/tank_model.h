// SPDX-License-Identifier: Apache-2.0
// The tank that the pump draws into, with its drain and its automatic top-off, and the board that
// drives and tells them: a Modbus unit of its own. Time is an argument; README.md has the map.
#pragma once

#include <optional>

#include "rules/time.h"
#include "rules/units.h"
#include "sim/modbus_pdu.h"

namespace brinegate::sim {

class TankModel : public ModbusUnit {
 public:
  explicit TankModel(LitresPerMinute drain_flow) : drain_flow_(drain_flow) {}

  // `filled` came through the gated pump meanwhile.
  void step(Duration dt, Litres filled, MonoTime now);
  // When the next running timed-on ends.
  [[nodiscard]] std::optional<MonoTime> lapses_at(MonoTime now) const;

  [[nodiscard]] Litres level() const { return level_; }
  [[nodiscard]] Litres drained() const { return drained_; }
  // Fresh water that the top-off poured in, because it saw the level fall.
  [[nodiscard]] Litres topped_off() const { return topped_off_; }
  [[nodiscard]] bool drain_on(MonoTime now) const { return is_on(drain_, now); }
  [[nodiscard]] bool held_off(MonoTime now) const { return is_on(hold_off_, now); }

  [[nodiscard]] RegisterValue read(config::ModbusTable table, std::uint16_t address,
                                   MonoTime now) const override;
  [[nodiscard]] bool can_write(config::ModbusTable table, std::uint16_t address) const override;
  void write(config::ModbusTable table, std::uint16_t address, std::uint16_t value,
             MonoTime now) override;

 private:
  struct Relay {
    bool plainly_on = false;
    std::optional<MonoTime> on_until;
  };
  static bool is_on(const Relay& relay, MonoTime now) {
    return relay.plainly_on || (relay.on_until && now < *relay.on_until);
  }

  LitresPerMinute drain_flow_;
  Litres level_{400.0};
  Litres drained_;
  Litres topped_off_;
  Relay drain_;
  Relay hold_off_;
};

}  // namespace brinegate::sim
