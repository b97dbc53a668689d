// SPDX-License-Identifier: Apache-2.0
#include "rules/pump_run.h"

#include <algorithm>

namespace brinegate {
namespace {

constexpr double newest_share = 0.5;  // of the level
constexpr Litres level_change{0.5};   // more than ripple
constexpr LitresPerMinute running_flow{0.1};

}  // namespace

PumpRun::PumpRun(const FlowEvidence& evidence, MonoTime now)
    : began_(now),
      stepped_(now),
      moved_(now),
      start_volume_(evidence.volume),
      volume_(evidence.volume),
      moved_volume_(evidence.volume.value_or(Litres(0.0))) {}

void PumpRun::stand(const FlowEvidence& evidence, MonoTime now) {
  began_ += now - stepped_;
  moved_ += now - stepped_;
  step(evidence, now);
}

void PumpRun::step(const FlowEvidence& evidence, MonoTime now) {
  if (evidence.volume) {
    if (!start_volume_)
      start_volume_ = moved_volume_ = evidence.volume.value();
    const Litres before = volume_.value_or(*evidence.volume);
    volume_ = before + (*evidence.volume - before) * newest_share;
    if (*volume_ <= moved_volume_ - level_change) {
      moved_volume_ = *volume_;
      moved_ = now;
    }
  }
  if (evidence.flow) {
    by_flow_ += Litres(std::max(0.0, evidence.flow->value()) * seconds(now - stepped_) / 60.0);
    if (*evidence.flow >= running_flow)
      moved_ = now;
  }
  stepped_ = now;
}

Litres PumpRun::drawn() const {
  const Litres by_level = start_volume_ && volume_ ? *start_volume_ - *volume_ : Litres(0.0);
  return std::max({Litres(0.0), by_level, by_flow_});
}

}  // namespace brinegate
