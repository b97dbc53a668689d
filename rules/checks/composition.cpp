// SPDX-License-Identifier: Apache-2.0
// S23: salinity does not prove composition. What can be said of it: the lots' analyses, and tests
// that a person makes by hand.
#include <algorithm>

#include "rules/checks/checks.h"

namespace brinegate::checks {
namespace {

// By the best value; what was only looked for and not found by the worse end.
bool within(const CensoredValue& content, const ContentRange& range) {
  return content.low >= range.low && content.high <= range.high;
}

bool usable(const LotPart& part, const Batch& batch) {
  return part.version > 0 && !has_expired(part, batch.age);
}

// The salinity at which the composition counts: as proven, or as measured once all is dissolved.
std::optional<PracticalSalinity> settled_salinity(const Round& round) {
  if (round.batch.proof)
    return round.batch.proof->salinity;
  return round.settling.settled ? round.salinity.value : std::nullopt;
}

// Out of its limits at this salinity; before it is known, wherever the tolerance lets it end.
bool fits(Analyte analyte, const ContentRange& range, const Round& round) {
  const Profile& profile = round.batch.profile;
  const auto fits_at = [&](PracticalSalinity salinity) {
    return within(*content_at(salinity, *round.batch.lots.composition, analyte), range);
  };
  if (const auto salinity = settled_salinity(round))
    return fits_at(*salinity);
  return fits_at(profile.target) || fits_at(profile.target - profile.tolerance) ||
         fits_at(profile.target + profile.tolerance);
}

std::vector<ContentFinding> beyond_limits(const Round& round) {
  const Batch& batch = round.batch;
  const PracticalSalinity salinity = settled_salinity(round).value_or(batch.profile.target);
  std::vector<ContentFinding> findings;
  for (const auto& [analyte, range] : batch.profile.limits) {
    const auto content = batch.lots.composition
                             ? content_at(salinity, *batch.lots.composition, analyte)
                             : std::nullopt;
    if (!content || !fits(analyte, range, round))
      findings.push_back({analyte, content, range, false, std::nullopt});
  }
  return findings;
}

}  // namespace

CheckResult lot_right(const Round& round) {
  const Batch& batch = round.batch;
  const Profile& profile = batch.profile;
  CheckResult result;
  if (!profile.lot_required && profile.limits.empty()) {
    result.verdict = Verdict::NotAsked;
    return result;
  }
  if (!batch.in_progress()) {
    result.verdict = Verdict::Waiting;
    return result;
  }
  const bool every_lot_usable =
      !has_unnamed(batch.lots) &&
      std::all_of(batch.lots.parts.begin(), batch.lots.parts.end(),
                  [&batch](const LotPart& part) { return usable(part, batch); });
  result.contents = beyond_limits(round);
  const bool shares_known = batch.salt_noted || batch.lots.composition || !every_lot_usable;
  if (profile.lot_required && !every_lot_usable)
    result.verdict = Verdict::Violated;
  else if (result.contents.empty())
    result.verdict =
        profile.limits.empty() || settled_salinity(round) ? Verdict::Met : Verdict::Waiting;
  else
    result.verdict = shares_known ? Verdict::Violated : Verdict::Waiting;
  return result;
}

CheckResult hand_tests(const Round& round) {
  const Batch& batch = round.batch;
  const auto salinity = settled_salinity(round);
  CheckResult result;
  result.verdict = batch.profile.hand_tests.empty() ? Verdict::NotAsked : Verdict::Met;
  for (const auto& [analyte, range] : batch.profile.hand_tests) {
    ContentFinding finding{analyte, std::nullopt, range, false, std::nullopt};
    if (batch.lots.composition)
      finding.expected =
          content_at(salinity.value_or(batch.profile.target), *batch.lots.composition, analyte);
    const auto test = batch.hand_tests.find(analyte);
    Verdict verdict = Verdict::Waiting;
    if (test != batch.hand_tests.end()) {
      finding.found = test->second.content;
      finding.within = within(*finding.found, range);
      verdict = finding.within ? Verdict::Met : Verdict::Violated;
    }
    result.verdict = std::min(result.verdict, verdict);
    result.contents.push_back(finding);
  }
  return result;
}

}  // namespace brinegate::checks
