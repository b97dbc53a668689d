// SPDX-License-Identifier: Apache-2.0
// Checks on the instruments and the record: is there anything to decide with?
#include <algorithm>

#include "rules/checks/checks.h"

namespace brinegate::checks {
namespace {

void name_disagreeing(const SalinityEstimate& salinity, CheckResult& result) {
  if (!salinity.disagreeing)
    return;
  for (const std::size_t cell : {salinity.disagreeing->first, salinity.disagreeing->second})
    result.troubles.push_back({cell, QualityReason::None, SampleFault::None});
}

}  // namespace

// S11: no record, no permit.
CheckResult record_kept(const Round& round) {
  CheckResult result;
  result.verdict = round.record_kept ? Verdict::Met : Verdict::Violated;
  return result;
}

// S3, S4: every configured probe has a good reading within its deadline.
CheckResult probes_good(const Round& round) {
  CheckResult result;
  for (std::size_t i = 0; i < round.readings.size(); ++i)
    if (!round.readings[i].is_good())
      result.troubles.push_back({i, round.readings[i].reason(), round.faults[i]});
  const bool all_good = result.troubles.empty() && !round.readings.empty();
  result.verdict = all_good ? Verdict::Met : Verdict::Violated;
  return result;
}

// S22: every register map was held against the probe's own display at two points.
CheckResult probes_verified(const Round& round) {
  CheckResult result;
  result.verdict = Verdict::NotAsked;
  for (std::size_t i = 0; i < round.station.probes.size(); ++i) {
    if (!needs_verification(round.station.probes[i]))
      continue;
    if (result.verdict == Verdict::NotAsked)
      result.verdict = Verdict::Met;
    if (is_verified(round.station.probes[i], round.verifications[i]))
      continue;
    result.verdict = Verdict::Waiting;
    result.troubles.push_back({i, QualityReason::None, SampleFault::None});
  }
  return result;
}

// S17: what is simulated never moves a real pump.
CheckResult real_source(const Round& round) {
  CheckResult result;
  if (!round.station.pump || round.station.pump->simulated) {
    result.verdict = Verdict::NotAsked;
    return result;
  }
  for (std::size_t i = 0; i < round.readings.size(); ++i)
    if (round.readings[i].simulated() || round.station.probes[i].simulated)
      result.troubles.push_back({i, QualityReason::None, SampleFault::None});
  result.verdict = result.troubles.empty() ? Verdict::Met : Verdict::Violated;
  return result;
}

CheckResult cells_agree(const Round& round) {
  CheckResult result;
  std::size_t configured = 0;
  for (const ProbeSpec& probe : round.station.probes)
    configured += is_salinity_cell(probe.measures) ? 1U : 0U;
  if (configured < 2) {
    result.verdict = Verdict::NotAsked;
    return result;
  }
  const SalinityEstimate& salinity = round.salinity;
  if (!salinity.complete) {
    result.verdict = Verdict::Waiting;
    return result;
  }
  result.measured = salinity.largest_difference;
  result.needed_high = salinity.allowed_difference;
  name_disagreeing(salinity, result);
  // While salt dissolves, the water may differ from place to place: that is for `uniform` to say.
  const bool mixing =
      round.batch.phase == BatchPhase::Mixing && dissolved(round).verdict != Verdict::Met;
  result.verdict = !salinity.disagreeing ? Verdict::Met
                   : mixing              ? Verdict::Waiting
                                         : Verdict::Violated;
  return result;
}

// The water is the same everywhere: cells that hang at different places do not differ, and it has
// been moved without a pause, and without a step of its salinity, for so long. What is being drawn
// does not unmix on the way.
CheckResult uniform(const Round& round) {
  constexpr Duration long_enough = std::chrono::minutes(5);  // common practice, no source
  const Duration needed = std::min(long_enough, round.batch.profile.circulate);
  CheckResult result;
  result.measured = seconds(round.evenly_moved);
  result.needed_low = seconds(needed);
  name_disagreeing(round.salinity, result);
  const bool moved = round.evenly_moved >= needed || round.batch.phase == BatchPhase::Drawing;
  const bool met = round.batch.in_progress() && moved && !round.salinity.disagreeing;
  result.verdict = met ? Verdict::Met : Verdict::Waiting;
  if (!moved)
    result.time_left = needed - round.evenly_moved;
  return result;
}

}  // namespace brinegate::checks
