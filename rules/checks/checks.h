// SPDX-License-Identifier: Apache-2.0
// The checks' functions, for the catalogue alone.
#pragma once

#include "rules/check.h"

namespace brinegate::checks {

// instruments.cpp
CheckResult record_kept(const Round& round);
CheckResult probes_good(const Round& round);
CheckResult probes_verified(const Round& round);
CheckResult real_source(const Round& round);
CheckResult cells_agree(const Round& round);
CheckResult uniform(const Round& round);

// pump.cpp
CheckResult no_leak(const Round& round);
CheckResult tank_not_full(const Round& round);
CheckResult level_above_low(const Round& round);
CheckResult pump_follows(const Round& round);
CheckResult water_stays(const Round& round);
CheckResult run_within_limits(const Round& round);
CheckResult top_off_held(const Round& round);

// water.cpp
CheckResult temperature_flat(const Round& round);
CheckResult on_target(const Round& round);
CheckResult dissolved(const Round& round);
CheckResult as_dosed(const Round& round);
CheckResult circulated(const Round& round);
CheckResult temperature_right(const Round& round);
CheckResult not_too_old(const Round& round);
CheckResult batch_proven(const Round& round);

// composition.cpp
CheckResult lot_right(const Round& round);
CheckResult hand_tests(const Round& round);

}  // namespace brinegate::checks
