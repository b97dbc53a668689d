// SPDX-License-Identifier: Apache-2.0
// S20: for some minutes after a pump was stopped the water is watched: what goes on flowing is a
// siphon or a pump that runs unseen, what comes back is a missing check valve.
#pragma once

#include <optional>

#include "rules/pump_supervision.h"
#include "rules/station_spec.h"
#include "rules/time.h"
#include "rules/units.h"

namespace brinegate {

class AfterStop {
 public:
  // `flow`: of a flow probe, in which water that flows while shut is seen however long after.
  void step(const PumpSpec& pump, const PumpEvidence& evidence, std::optional<LitresPerMinute> flow,
            MonoTime now);
  // A person has said that water was added or taken, or another pump moves it.
  void level_changed_on_purpose() { reference_.reset(); }

  [[nodiscard]] bool flows_on() const { return level_flows_on_ || flow_flows_on_; }
  [[nodiscard]] bool flows_back() const { return flows_back_; }

 private:
  void watch_level(const PumpSpec& pump, std::optional<Litres> volume);

  bool asked_on_ = false;
  std::optional<MonoTime> stopped_at_;  // and watched since
  std::optional<MonoTime> flows_since_;
  std::optional<Litres> reference_;  // the level once the pump stood
  std::optional<Litres> smoothed_;
  bool level_flows_on_ = false;
  bool flow_flows_on_ = false;
  bool flows_back_ = false;
};

}  // namespace brinegate
