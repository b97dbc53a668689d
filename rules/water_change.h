// SPDX-License-Identifier: Apache-2.0
// One run of the gated pump: how much it has moved, how long it has run, and when it must end. The
// level and the time hold independently; the limits are the station's, never the request's.
#pragma once

#include <optional>
#include <string>

#include "rules/station_spec.h"
#include "rules/time.h"
#include "rules/units.h"

namespace brinegate {

// Why a change ended. Everything but the last two is early and raises an alarm.
enum class ChangeEnd {
  Interrupted,  // the daemon stopped or was killed
  GateShut,     // a check was no longer met; the first-out says which
  NoFlow,       // the pump is on and no water moves
  TimeLimit,
  ReservoirLow,
  Stopped,  // a person ended it
  VolumeReached,
};

// What can be seen of the water while the pump runs.
struct FlowEvidence {
  std::optional<Litres> volume;         // in the reservoir, where a new sample says so
  std::optional<LitresPerMinute> flow;  // of a flow probe
};

class PumpRun {
 public:
  PumpRun() = default;
  PumpRun(const FlowEvidence& evidence, MonoTime now);

  void step(const FlowEvidence& evidence, MonoTime now);
  // The larger of what the level and the flow say.
  [[nodiscard]] Litres drawn() const;
  [[nodiscard]] Duration elapsed(MonoTime now) const { return now - began_; }
  // A limit of the station or the asked volume is reached.
  [[nodiscard]] std::optional<ChangeEnd> limit(const StationSpec& station, Litres asked,
                                               MonoTime now) const;
  [[nodiscard]] std::optional<Litres> start_volume() const { return start_volume_; }

 private:
  MonoTime began_;
  MonoTime stepped_;
  MonoTime moved_;  // when water was last seen to move
  std::optional<Litres> start_volume_;
  std::optional<Litres> volume_;  // lightly smoothed, so that a ripple does not end a change
  Litres moved_volume_;           // the level at moved_
  Litres by_flow_;
};

// A change as asked and as it runs.
struct WaterChange {
  Litres asked;
  std::string permit;
  std::optional<PumpRun> run;  // since the gate opened
};

}  // namespace brinegate
