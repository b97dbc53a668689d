// SPDX-License-Identifier: Apache-2.0
// The rig as a whole, without sockets: reservoir, probes and devices brought forward together to a
// given moment. One simulated reservoir of one site.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string_view>

#include "rules/time.h"
#include "rules/units.h"
#include "sim/device_models.h"
#include "sim/probe_models.h"
#include "sim/random.h"
#include "sim/reservoir.h"
#include "sim/tank_model.h"

namespace brinegate::sim {

enum class Probe : std::size_t { CellA, CellB, Temperature, Level };
inline constexpr std::array<std::string_view, 4> probe_names{"cell_a", "cell_b", "temperature",
                                                             "level"};

enum class PumpFault {
  Siphon,   // no air break: flow goes on after the pump stopped
  Blocked,  // has power, moves nothing
  None,
};

inline constexpr std::uint8_t transmitter_unit = 1;
inline constexpr std::uint8_t relay_unit = 2;
inline constexpr std::uint8_t tank_unit = 3;
// The reservoir is prismatic: 200 L stand 800 mm high.
inline constexpr double millimetres_per_litre = 4.0;

struct RigSpec {
  ReservoirSpec reservoir;
  Litres volume{150.0};
  Celsius temperature{18.0};
  double speed = 1.0;  // physics seconds per second; the relay's timed-on stays in real time
  std::uint64_t seed = 1;
  double bubbles_per_hour = 6.0;  // at each cell, by the physics' clock
};

struct UnitAnswer {
  Pdu pdu;
  Duration delay;
};

class Rig {
 public:
  Rig(const RigSpec& spec, MonoTime now);

  // Brings water, probes and relays forward to `now`; earlier moments change nothing.
  void advance(MonoTime now);
  // One Modbus request at `now`; none where no unit answers.
  std::optional<UnitAnswer> request(std::uint8_t unit, std::span<const std::uint8_t> pdu,
                                    MonoTime now);

  Reservoir& reservoir() { return reservoir_; }
  [[nodiscard]] const Reservoir& reservoir() const { return reservoir_; }
  RelayBoard& relays() { return relays_; }
  [[nodiscard]] const RelayBoard& relays() const { return relays_; }
  [[nodiscard]] const TankModel& tank() const { return tank_; }
  ProbeModel& probe(Probe which) { return probes_[static_cast<std::size_t>(which)]; }
  [[nodiscard]] const ProbeModel& probe(Probe which) const {
    return probes_[static_cast<std::size_t>(which)];
  }

  void set_transmitter_fault(AnswerFault fault) { transmitter_fault_ = fault; }
  void set_relay_fault(AnswerFault fault) { relay_fault_ = fault; }
  void set_pump_fault(PumpFault fault) { pump_fault_ = fault; }
  [[nodiscard]] AnswerFault transmitter_fault() const { return transmitter_fault_; }
  [[nodiscard]] AnswerFault relay_fault() const { return relay_fault_; }
  [[nodiscard]] PumpFault pump_fault() const { return pump_fault_; }

  [[nodiscard]] MonoTime now() const { return now_; }
  [[nodiscard]] double speed() const { return speed_; }
  [[nodiscard]] Duration physics_time() const { return physics_time_; }

 private:
  void step_physics(Duration real);
  [[nodiscard]] std::optional<MonoTime> next_lapse() const;
  void publish_to_transmitter();
  [[nodiscard]] std::array<double, probe_names.size()> truths() const;

  double speed_;
  Random random_;
  Reservoir reservoir_;
  std::array<ProbeModel, probe_names.size()> probes_;
  Transmitter transmitter_;
  RelayBoard relays_;
  TankModel tank_;
  AnswerFault transmitter_fault_ = AnswerFault::None;
  AnswerFault relay_fault_ = AnswerFault::None;
  PumpFault pump_fault_ = PumpFault::None;
  MonoTime now_;
  Duration physics_time_{0};
};

}  // namespace brinegate::sim
