// SPDX-License-Identifier: Apache-2.0
// Many lives, one for each seed, until they come to so many station-years. The same seeds, the same
// findings, however many at a time.
#pragma once

#include <cstdint>
#include <functional>
#include <vector>

#include "sim/faults/findings.h"
#include "sim/faults/virtual_daemon.h"

namespace brinegate::sim {

struct FaultPlan {
  double years = 10.0;  // of station time, at least
  std::uint64_t first_seed = 1;
  unsigned jobs = 2;
  Defect defect = Defect::None;
};

struct FaultSummary {
  FaultPlan plan;
  Tally tally;  // violations in the order of seeds
  double cpu_seconds = 0.0;

  [[nodiscard]] std::vector<Mark> never_reached() const;
  // Nothing violated, and every mark reached.
  [[nodiscard]] bool is_clean() const;
  [[nodiscard]] double years() const;
};

// `progress` is called after each life with what was found so far.
FaultSummary run_fault_campaign(const FaultPlan& plan,
                                const std::function<void(const FaultSummary&)>& progress);

}  // namespace brinegate::sim
