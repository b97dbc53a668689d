// SPDX-License-Identifier: Apache-2.0
// How often something may be done: so many at once, then one each interval.
#pragma once

#include <optional>

#include "rules/time.h"

namespace brinegate::daemon {

class RateLimit {
 public:
  RateLimit(int at_once, Duration interval) : at_once_(at_once), interval_(interval) {}

  // True, and counted, if it may be done now.
  bool allows(MonoTime now) {
    // As if each took an interval, and those at once may be ahead of it.
    const MonoTime begin = done_up_to_ && *done_up_to_ > now ? *done_up_to_ : now;
    if (begin + interval_ > now + at_once_ * interval_) {
      return false;
    }
    done_up_to_ = begin + interval_;
    return true;
  }

 private:
  int at_once_;
  Duration interval_;
  std::optional<MonoTime> done_up_to_;
};

}  // namespace brinegate::daemon
