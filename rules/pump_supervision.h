// SPDX-License-Identifier: Apache-2.0
// Watches that the pump does what the output says and that the water stays where it is (S5, S14,
// S20). What was asked and what is seen are two things.
#pragma once

#include <optional>

#include "rules/station_spec.h"
#include "rules/time.h"
#include "rules/units.h"

namespace brinegate {

struct PumpEvidence {
  bool asked_on = false;
  std::optional<bool> running;   // the read-back, where there is a good one
  std::optional<Litres> volume;  // in the reservoir, where a new sample says so
  bool watch_level = false;      // a batch is there whose water must stay
};

class PumpSupervision {
 public:
  void step(const PumpSpec& pump, const PumpEvidence& evidence, MonoTime now);
  // A person has said that water was added or taken: the level starts afresh.
  void level_changed_on_purpose() { level_ = {}; }

  [[nodiscard]] bool running_while_shut() const { return running_while_shut_; }
  [[nodiscard]] bool not_running_while_open() const { return not_running_while_open_; }
  [[nodiscard]] bool falling_while_shut() const { return falling_while_shut_; }

 private:
  void watch_level(const PumpSpec& pump, const PumpEvidence& evidence, MonoTime now);

  // The level is held against what it was one to two periods ago, so that evaporation passes and a
  // siphon does not.
  struct LevelWatch {
    std::optional<Litres> smoothed;
    std::optional<Litres> reference;
    std::optional<Litres> next_reference;
    MonoTime period_began;
  };

  std::optional<bool> asked_on_;
  MonoTime asked_since_;
  std::optional<MonoTime> contrary_since_;  // the read-back says otherwise since then
  bool running_while_shut_ = false;
  bool not_running_while_open_ = false;
  bool falling_while_shut_ = false;
  LevelWatch level_;
};

}  // namespace brinegate
