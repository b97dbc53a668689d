// SPDX-License-Identifier: Apache-2.0
#include "rules/water_change.h"

#include <algorithm>

namespace brinegate {
namespace {

constexpr double smoothing = 0.5;  // share of the newest level
constexpr Litres noticeable{0.5};  // a level change that is not ripple
constexpr LitresPerMinute noticeable_flow{0.1};

}  // namespace

PumpRun::PumpRun(const FlowEvidence& evidence, MonoTime now)
    : began_(now),
      stepped_(now),
      moved_(now),
      start_volume_(evidence.volume),
      volume_(evidence.volume),
      moved_volume_(evidence.volume.value_or(Litres(0.0))) {}

void PumpRun::step(const FlowEvidence& evidence, MonoTime now) {
  if (evidence.volume) {
    if (!start_volume_)
      start_volume_ = moved_volume_ = evidence.volume.value();
    const Litres before = volume_.value_or(*evidence.volume);
    volume_ = before + (*evidence.volume - before) * smoothing;
    if (*volume_ <= moved_volume_ - noticeable) {
      moved_volume_ = *volume_;
      moved_ = now;
    }
  }
  if (evidence.flow) {
    by_flow_ += Litres(std::max(0.0, evidence.flow->value()) * seconds(now - stepped_) / 60.0);
    if (*evidence.flow >= noticeable_flow)
      moved_ = now;
  }
  stepped_ = now;
}

Litres PumpRun::drawn() const {
  const Litres by_level = start_volume_ && volume_ ? *start_volume_ - *volume_ : Litres(0.0);
  return std::max({Litres(0.0), by_level, by_flow_});
}

std::optional<ChangeEnd> PumpRun::limit(const StationSpec& station, Litres asked,
                                        MonoTime now) const {
  const PumpSpec& pump = *station.pump;
  if (drawn() >= std::min(asked, pump.max_volume))
    return ChangeEnd::VolumeReached;
  if (volume_ && *volume_ <= station.low_level)
    return ChangeEnd::ReservoirLow;
  if (elapsed(now) >= pump.max_run)
    return ChangeEnd::TimeLimit;
  if (now - moved_ >= pump.no_flow_after)
    return ChangeEnd::NoFlow;
  return std::nullopt;
}

}  // namespace brinegate
