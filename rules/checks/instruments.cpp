// SPDX-License-Identifier: Apache-2.0
// Checks on the instruments and the record: is there anything to decide with?
#include "rules/checks/checks.h"

namespace brinegate::checks {

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
  if (salinity.disagreeing) {
    result.troubles.push_back(
        {salinity.disagreeing->first, QualityReason::None, SampleFault::None});
    result.troubles.push_back(
        {salinity.disagreeing->second, QualityReason::None, SampleFault::None});
  }
  result.verdict = salinity.disagreeing ? Verdict::Violated : Verdict::Met;
  return result;
}

}  // namespace brinegate::checks
