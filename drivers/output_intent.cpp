// SPDX-License-Identifier: Apache-2.0
#include "drivers/output_intent.h"

#include <algorithm>

namespace brinegate::drivers {

OutputIntent::OutputIntent(OutputTiming timing)
    : timing_(timing), retry_(timing.first_retry, timing.longest_retry) {}

void OutputIntent::state(std::optional<MonoTime> on_until, MonoTime now) {
  on_until_ = on_until;
  confirmed_ = false;
  next_try_ = now;
  retry_.reset();
  ++generation_;
}

void OutputIntent::want(std::optional<MonoTime> on_until, MonoTime now) {
  // "Off" said again while "off" is being pursued must not defeat the back-off of a dead device.
  if (!on_until && !on_until_) {
    return;
  }
  state(on_until, now);
}

OutputIntent::Step OutputIntent::next(MonoTime now) {
  if (on_until_ && now >= *on_until_) {
    const Step drop{Action::Drop, *on_until_, generation_};
    const bool never_confirmed = !confirmed_;
    state(std::nullopt, now);
    if (never_confirmed) {
      return drop;
    }
  }
  if (now < next_try_) {
    return {};
  }
  if (on_until_) {
    return confirmed_ ? Step{} : Step{Action::SwitchOn, *on_until_, generation_};
  }
  return {confirmed_ ? Action::RestateOff : Action::SwitchOff, MonoTime{}, generation_};
}

void OutputIntent::done(const Step& step, bool confirmed, MonoTime now) {
  if (step.generation != generation_) {
    return;
  }
  confirmed_ = confirmed;
  if (confirmed) {
    retry_.reset();
    next_try_ = on_until_ ? *on_until_ : now + timing_.restate_off;
  } else {
    next_try_ = now + retry_.next();
  }
}

void OutputIntent::doubt(MonoTime now) {
  state(on_until_, now);
}

MonoTime OutputIntent::due() const {
  return on_until_ ? std::min(*on_until_, next_try_) : next_try_;
}

}  // namespace brinegate::drivers
