// SPDX-License-Identifier: Apache-2.0
#include "rules/hold_off.h"

#include <algorithm>
#include <cmath>

namespace brinegate {
namespace {

constexpr Litres noticeable{0.5};  // a level change that is not ripple
// A level that never rests must not keep the tank without fresh water for ever.
constexpr int longest_rests = 10;

}  // namespace

void HoldOff::begin(MonoTime now) {
  asked_since_ = wanted_at_ = now;
  confirmed_ = was_confirmed_ = false;
  let_go_at_.reset();
  level_.reset();
}

void HoldOff::step(const HoldOffSpec& spec, const HoldOffEvidence& evidence, MonoTime now) {
  if (evidence.wanted) {
    if (!asked_since_)
      begin(now);
    wanted_at_ = moved_at_ = now;
    level_.reset();
  } else if (asked_since_) {
    rest(spec, evidence, now);
  }
  if (!asked_since_ && evidence.held == false) {
    seen_free_ = true;
    let_go_at_.reset();
  }
  confirmed_ = asked_since_ && seen_free_ && evidence.held == true;
  was_confirmed_ |= confirmed_;
  still_held_ = let_go_at_ && now - *let_go_at_ >= spec.confirm_within;
}

void HoldOff::rest(const HoldOffSpec& spec, const HoldOffEvidence& evidence, MonoTime now) {
  if (evidence.level) {
    if (level_ && std::abs((*evidence.level - *level_).value()) > noticeable.value())
      moved_at_ = now;
    if (!level_ || moved_at_ == now)
      level_ = evidence.level;
  }
  const bool rested = now - std::max(wanted_at_, moved_at_) >= spec.rest;
  if (!rested && now - wanted_at_ < longest_rests * spec.rest)
    return;
  asked_since_.reset();
  let_go_at_ = now;
  seen_free_ = was_confirmed_ = false;
}

}  // namespace brinegate
