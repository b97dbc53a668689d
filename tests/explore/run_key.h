// SPDX-License-Identifier: Apache-2.0
// The whole state of a run of the pump, exactly.
#pragma once

#include <cmath>
#include <string>

#include "rules/water_change.h"
#include "tests/explore/exploration.h"
#include "tests/explore/revealed.h"

namespace brinegate::explore {

BRINEGATE_REVEAL(run_moved, PumpRun, moved_);
BRINEGATE_REVEAL(run_volume, PumpRun, volume_);
BRINEGATE_REVEAL(run_moved_volume, PumpRun, moved_volume_);
BRINEGATE_REVEAL(run_by_flow, PumpRun, by_flow_);

inline void put_run(std::string& key, const PumpRun& run, MonoTime now) {
  const auto micro = [](Litres litres) { return std::llround(litres.value() * 1e6); };
  const auto& volume = run.*run_volume();
  put(key, run.start_volume() ? micro(*run.start_volume()) : -1);
  put(key, volume ? micro(*volume) : -1);
  put(key, micro(run.*run_moved_volume()));
  put(key, micro(run.*run_by_flow()));
  put(key, (now - run.*run_moved()).count());
  put(key, run.elapsed(now).count());
}

}  // namespace brinegate::explore
