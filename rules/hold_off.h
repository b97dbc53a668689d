// SPDX-License-Identifier: Apache-2.0
// S18: automatic top-off and dosing on the tank are held off while water is changed. What was asked
// and what is confirmed are two things: only a contact of what is held off confirms it, and only
// one that was seen to read otherwise before.
#pragma once

#include <optional>

#include "rules/station_spec.h"
#include "rules/time.h"
#include "rules/units.h"

namespace brinegate {

struct HoldOffEvidence {
  bool wanted = false;          // a change is asked for, or the tank may stand too low
  std::optional<bool> held;     // the contact, where there is a good reading
  std::optional<Litres> level;  // that must rest, where a new sample says so
};

class HoldOff {
 public:
  // A change is asked for: its own confirmation is waited for.
  void begin(MonoTime now);
  void step(const HoldOffSpec& spec, const HoldOffEvidence& evidence, MonoTime now);

  // What the output is to be told.
  [[nodiscard]] bool asked() const { return asked_since_.has_value(); }
  [[nodiscard]] bool confirmed() const { return confirmed_; }
  // It was confirmed for this change and is not any more.
  [[nodiscard]] bool lost() const { return was_confirmed_ && !confirmed_; }
  // Asked and never confirmed within its time.
  [[nodiscard]] bool refused(const HoldOffSpec& spec, MonoTime now) const {
    return asked_since_ && !was_confirmed_ && now - *asked_since_ >= spec.confirm_within;
  }
  // Let go, and the contact still says that it is held.
  [[nodiscard]] bool still_held() const { return still_held_; }

 private:
  void rest(const HoldOffSpec& spec, const HoldOffEvidence& evidence, MonoTime now);

  std::optional<MonoTime> asked_since_;
  MonoTime wanted_at_;  // last
  MonoTime moved_at_;   // the level, last
  std::optional<Litres> level_;
  bool seen_free_ = false;  // the contact, since it was last let go
  bool confirmed_ = false;
  bool was_confirmed_ = false;         // for this change
  std::optional<MonoTime> let_go_at_;  // and not yet seen to be free
  bool still_held_ = false;
};

}  // namespace brinegate
