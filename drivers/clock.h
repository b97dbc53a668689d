// SPDX-License-Identifier: Apache-2.0
// The only place outside the shell where a clock is read: drivers stamp the arrival of samples.
#pragma once

#include "rules/time.h"

namespace brinegate::drivers {

MonoTime monotonic_now();
WallTime wall_now();

}  // namespace brinegate::drivers
