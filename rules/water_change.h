// SPDX-License-Identifier: Apache-2.0
// A water change as asked and as it runs, and when it must end. The level and the time hold
// independently; the limits are the station's, never the request's.
#pragma once

#include <optional>
#include <string>

#include "rules/station_spec.h"
#include "rules/tank_exchange.h"
#include "rules/time.h"
#include "rules/units.h"

namespace brinegate {

// Why a change ended. Everything but the last two is early and raises an alarm.
enum class ChangeEnd {
  Interrupted,  // the daemon stopped or was killed
  GateShut,     // a check was no longer met; the first-out says which
  NotHeldOff,   // the tank's top-off and dosing did not confirm that they are held off
  NoFlow,       // the pump is on and no water moves
  TimeLimit,
  NoDrainFlow,  // the drain is on and no water leaves the tank
  DrainTimeLimit,
  DrainFlowsOn,  // water leaves the tank although the drain is off
  Unbalanced,    // what was taken out and what was put in are not the same
  ReservoirLow,
  Stopped,  // a person ended it
  VolumeReached,
};

// A limit of the station or the asked volume is reached.
[[nodiscard]] std::optional<ChangeEnd> limit_of(const PumpRun& run, const StationSpec& station,
                                                Litres asked, MonoTime now);
// Likewise of the drain, but for the volume.
[[nodiscard]] std::optional<ChangeEnd> limit_of(const TankExchange& exchange,
                                                const DrainSpec& drain, MonoTime now);

// A change as asked and as it runs.
struct WaterChange {
  Litres asked;
  std::string permit;
  std::optional<PumpRun> run;            // since the gate opened
  std::optional<TankExchange> exchange;  // likewise, where the station has a drain
};

}  // namespace brinegate
