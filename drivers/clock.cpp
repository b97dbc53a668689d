// SPDX-License-Identifier: Apache-2.0
#include "drivers/clock.h"

namespace brinegate::drivers {

MonoTime monotonic_now() {
  return MonoTime(
      std::chrono::duration_cast<Duration>(std::chrono::steady_clock::now().time_since_epoch()));
}

WallTime wall_now() {
  return WallTime(
      std::chrono::duration_cast<Duration>(std::chrono::system_clock::now().time_since_epoch()));
}

}  // namespace brinegate::drivers
