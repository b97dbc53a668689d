// SPDX-License-Identifier: Apache-2.0
#include "sim/faults/fault_campaign.h"

#include <algorithm>
#include <ctime>
#include <mutex>
#include <thread>
#include <utility>

#include "sim/faults/life_plan.h"
#include "sim/faults/station_life.h"

namespace brinegate::sim {
namespace {

constexpr double seconds_a_year = 365.25 * 86400.0;

double cpu_now() {
  return static_cast<double>(std::clock()) / CLOCKS_PER_SEC;
}

// So many seeds that the lives' weeks of faults alone come to the years asked for.
std::uint64_t lives_for(const FaultPlan& plan) {
  double station_seconds = 0.0;
  std::uint64_t lives = 0;
  while (station_seconds < plan.years * seconds_a_year)
    station_seconds += seconds(draw_life(plan.first_seed + lives++).faults_last);
  return lives;
}

}  // namespace

std::vector<Mark> FaultSummary::never_reached() const {
  std::vector<Mark> missing;
  for (std::size_t i = 0; i < marks; ++i)
    if (tally.reached[i] == 0)
      missing.push_back(static_cast<Mark>(i));
  return missing;
}

bool FaultSummary::is_clean() const {
  return tally.violations.empty() && never_reached().empty();
}

double FaultSummary::years() const {
  return tally.station_seconds / seconds_a_year;
}

FaultSummary run_fault_campaign(const FaultPlan& plan,
                                const std::function<void(const FaultSummary&)>& progress) {
  FaultSummary summary;
  summary.plan = plan;
  const double began = cpu_now();
  const std::uint64_t lives = lives_for(plan);
  std::uint64_t next = 0;
  std::mutex mutex;
  const auto work = [&] {
    for (;;) {
      std::unique_lock guard(mutex);
      if (next == lives)
        return;
      const std::uint64_t seed = plan.first_seed + next++;
      guard.unlock();
      const LifePlan life = draw_life(seed);
      LifeFinding found = StationLife(life, plan.defect).run();
      guard.lock();
      summary.tally.add(std::move(found.tally));
      summary.cpu_seconds = cpu_now() - began;
      if (progress)
        progress(summary);
    }
  };
  std::vector<std::thread> workers;
  for (unsigned i = 1; i < plan.jobs; ++i)
    workers.emplace_back(work);
  work();
  for (std::thread& worker : workers)
    worker.join();
  std::stable_sort(summary.tally.violations.begin(), summary.tally.violations.end(),
                   [](const Violation& a, const Violation& b) { return a.seed < b.seed; });
  return summary;
}

}  // namespace brinegate::sim
