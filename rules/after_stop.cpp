// SPDX-License-Identifier: Apache-2.0
#include "rules/after_stop.h"

namespace brinegate {
namespace {

using namespace std::chrono_literals;

// All common practice, no source. A siphon begins at once; after these minutes the slower watch
// over any loss (PumpSupervision) goes on. A vessel is often filled anew soon after a change, so
// water that comes back is told from that only in the first minutes.
constexpr Duration watch_for = 10min;
constexpr Duration watch_back_for = 2min;
constexpr double smoothing = 0.2;                // share of the newest level
constexpr double share_of_unasked_loss = 0.5;    // this soon, less is noticed than in half an hour
constexpr LitresPerMinute noticeable_flow{0.2};  // less is a meter's own zero

}  // namespace

void AfterStop::step(const PumpSpec& pump, const PumpEvidence& evidence,
                     std::optional<LitresPerMinute> flow, MonoTime now) {
  if (evidence.asked_on) {
    *this = {};
    asked_on_ = true;
    return;
  }
  if (asked_on_)
    stopped_at_ = now;
  asked_on_ = false;

  const bool flows = flow && *flow >= noticeable_flow;
  if (!flows && flow)
    flows_since_.reset();
  else if (flows && !flows_since_)
    flows_since_ = now;
  // A pump runs out, and hoses run empty.
  const Duration settles = 2 * pump.readback_within;
  flow_flows_on_ = flows_since_ && now - *flows_since_ >= settles;

  const bool watched = stopped_at_ && now - *stopped_at_ < watch_for;
  if (!watched) {
    level_flows_on_ = flows_back_ = false;
    reference_.reset();
  } else if (now - *stopped_at_ >= settles) {
    watch_level(pump, evidence.volume);
    flows_back_ = flows_back_ && now - *stopped_at_ < watch_back_for;
  }
}

void AfterStop::watch_level(const PumpSpec& pump, std::optional<Litres> volume) {
  if (!volume)
    return;
  if (!reference_) {
    reference_ = smoothed_ = volume;
    level_flows_on_ = flows_back_ = false;
    return;
  }
  smoothed_ = *smoothed_ + (*volume - *smoothed_) * smoothing;
  const Litres noticed = pump.unasked_loss * share_of_unasked_loss;
  level_flows_on_ = *smoothed_ < *reference_ - noticed;
  flows_back_ = *smoothed_ > *reference_ + noticed;
}

}  // namespace brinegate
