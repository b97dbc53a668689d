// SPDX-License-Identifier: Apache-2.0
// Everything that a seed decides about the life of one station before it begins: how it is built,
// which kinds of faults are on (swarm testing), and when each strikes. The ranges are invented, of
// the size that a keeper meets.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <vector>

#include "rules/station_spec.h"
#include "rules/time.h"
#include "rules/units.h"
#include "sim/faults/fault_kinds.h"
#include "sim/probe_models.h"
#include "sim/reservoir.h"

namespace brinegate::sim {

struct StationTraits {
  Litres capacity;
  bool has_level = true;  // else its flow alone says what is drawn
  bool has_flow = false;
  std::size_t cells = 1;
  PermitMode permit = PermitMode::PerChange;
  bool has_readback = true;
  bool has_second_cutoff = true;
  Duration lease = std::chrono::seconds(5);
  bool bath_by_broker = true;
  ReservoirSpec reservoir;
  LitresPerMinute pump_flow;
  Celsius set_point{25.0};
  std::array<ProbeTraits, 2> cell_traits;  // honest: within one standard uncertainty
  ProbeTraits bath;
  ProbeTraits level;  // L
  double dry_fraction = 0.93;
  double salt_factor = 1.0;  // salinity over what conductivity implies
};

// When a fault begins: at its time, or at the first such moment after it.
enum class Strikes { AtItsTime, ChangeAsked, GateOpens };

struct PlannedFault {
  FaultKind kind = FaultKind::Killed;
  Duration at{0};
  Strikes strikes = Strikes::AtItsTime;
  Duration after{0};  // that moment
  Duration lasts{0};
  double size = 0.0;  // 0 to 1: how much, as each kind takes it
};

struct LifePlan {
  std::uint64_t seed = 0;
  StationTraits station;
  std::array<bool, fault_kinds> on{};
  std::vector<PlannedFault> faults;  // in the order of time
  Duration faults_last{0};

  [[nodiscard]] bool has(FaultKind kind) const { return on[static_cast<std::size_t>(kind)]; }
};

// After the last fault everything is well for so long at most, within which the station must have
// proven a batch and completed a change.
inline constexpr Duration recovery_within = std::chrono::hours(36);

LifePlan draw_life(std::uint64_t seed);

}  // namespace brinegate::sim
