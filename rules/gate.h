// SPDX-License-Identifier: Apache-2.0
// What stands between the pump and power. Shut at once, open slowly: one check not met shuts in the
// same round; to open, every check must have been met without a gap for the dwell, something must
// want the pump, and the permit must be on disk. Zero-initialised means shut.
#pragma once

#include <optional>
#include <string>

#include "rules/check.h"
#include "rules/time.h"
#include "rules/units.h"

namespace brinegate {

enum class GateState { Shut, Open };

// The time-limited leave to run the pump. It lapses by itself: what drives the pump is told an end.
struct Permit {
  std::string id;
  std::string batch;
  std::string lot;
  double risk = 1.0;  // stated risk that the batch is out of tolerance all the same
  Litres volume;      // at most
};

struct GateInputs {
  bool every_check_met = false;
  std::optional<CheckId> first_unmet;    // the first-out candidate where not
  bool wanted = false;                   // a change runs, or the pump may run while proven
  std::optional<Permit> permit;          // what to ask for when it is to open
  std::optional<std::string> on_record;  // id of the permit that is on disk by now
  Duration dwell{0};
};

enum class GateChange { None, PermitNeeded, PermitWithdrawn, Opened, Shut };

class Gate {
 public:
  GateChange step(const GateInputs& inputs, MonoTime now);

  [[nodiscard]] GateState state() const { return state_; }
  // The permit in force, or the one that is being recorded.
  [[nodiscard]] const std::optional<Permit>& permit() const { return permit_; }
  // What shut the gate last; none where it was shut because nothing wanted it any more.
  [[nodiscard]] std::optional<CheckId> first_out() const { return first_out_; }
  // Every check was met without a gap for the dwell.
  [[nodiscard]] bool ready(Duration dwell, MonoTime now) const {
    return all_met_since_ && now - *all_met_since_ >= dwell;
  }
  [[nodiscard]] std::optional<Duration> dwell_left(Duration dwell, MonoTime now) const;

 private:
  GateChange shut(std::optional<CheckId> first_out);

  GateState state_ = GateState::Shut;
  std::optional<Permit> permit_;
  std::optional<CheckId> first_out_;
  std::optional<MonoTime> all_met_since_;
};

}  // namespace brinegate
