// SPDX-License-Identifier: Apache-2.0
// How long to leave a peer alone after a failure: doubling from a first delay up to a limit.
#pragma once

#include <algorithm>

#include "rules/time.h"

namespace brinegate::drivers {

class Backoff {
 public:
  Backoff(Duration first, Duration limit) : first_(first), limit_(limit), next_(first) {}

  // The delay to keep now; the one after it is twice as long.
  Duration next() {
    const Duration delay = next_;
    next_ = std::min(next_ * 2, limit_);
    return delay;
  }
  void reset() { next_ = first_; }

 private:
  Duration first_;
  Duration limit_;
  Duration next_;
};

}  // namespace brinegate::drivers
