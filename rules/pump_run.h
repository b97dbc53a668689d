// SPDX-License-Identifier: Apache-2.0
// One run of a gated pump: how much it has moved, how long it has run, how long nothing moved.
#pragma once

#include <optional>

#include "rules/time.h"
#include "rules/units.h"

namespace brinegate {

// What can be seen of the water while a pump runs.
struct FlowEvidence {
  std::optional<Litres> volume;         // in the vessel it empties, where a new sample says so
  std::optional<LitresPerMinute> flow;  // of a flow probe
};

class PumpRun {
 public:
  PumpRun() = default;
  PumpRun(const FlowEvidence& evidence, MonoTime now);

  void step(const FlowEvidence& evidence, MonoTime now);
  // The pump is meant to stand still: this time does not count, but water that moves does.
  void stand(const FlowEvidence& evidence, MonoTime now);
  // The larger of what the level and the flow say.
  [[nodiscard]] Litres drawn() const;
  [[nodiscard]] Duration elapsed(MonoTime now) const { return now - began_; }
  [[nodiscard]] Duration still_for(MonoTime now) const { return now - moved_; }
  [[nodiscard]] std::optional<Litres> start_volume() const { return start_volume_; }
  [[nodiscard]] std::optional<Litres> volume() const { return volume_; }

 private:
  MonoTime began_;
  MonoTime stepped_;
  MonoTime moved_;  // when water was last seen to move
  std::optional<Litres> start_volume_;
  std::optional<Litres> volume_;  // lightly smoothed, so that a ripple does not end a change
  Litres moved_volume_;           // the level at moved_
  Litres by_flow_;
};

}  // namespace brinegate
