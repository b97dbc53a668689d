// SPDX-License-Identifier: Apache-2.0
#include "rules/gate.h"

#include <algorithm>

namespace brinegate {

std::optional<Duration> Gate::dwell_left(Duration dwell, MonoTime now) const {
  if (!all_met_since_)
    return std::nullopt;
  return std::max(Duration::zero(), dwell - (now - *all_met_since_));
}

GateChange Gate::shut(std::optional<CheckId> first_out) {
  const bool was_open = state_ == GateState::Open;
  const bool was_asking = permit_.has_value();
  state_ = GateState::Shut;
  permit_.reset();
  if (was_open) {
    first_out_ = first_out;
    return GateChange::Shut;
  }
  return was_asking ? GateChange::PermitWithdrawn : GateChange::None;
}

GateChange Gate::step(const GateInputs& inputs, MonoTime now) {
  if (!inputs.every_check_met) {
    all_met_since_.reset();
    return shut(inputs.first_unmet);
  }
  if (!all_met_since_)
    all_met_since_ = now;
  if (!inputs.wanted)
    return shut(std::nullopt);
  if (state_ == GateState::Open)
    return GateChange::None;
  if (permit_) {
    if (inputs.on_record != permit_->id)
      return GateChange::None;
    state_ = GateState::Open;
    return GateChange::Opened;
  }
  if (!ready(inputs.dwell, now) || !inputs.permit)
    return GateChange::None;
  permit_ = inputs.permit;
  return GateChange::PermitNeeded;
}

}  // namespace brinegate
