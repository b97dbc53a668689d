// SPDX-License-Identifier: Apache-2.0
// Checks on the water itself: is the batch what its profile wants?
#include <algorithm>
#include <cmath>

#include "rules/checks/checks.h"
#include "rules/conformity.h"
#include "rules/seawater.h"

namespace brinegate::checks {
namespace {

bool is_mixing(const Batch& batch) {
  return batch.phase == BatchPhase::Mixing || batch.phase == BatchPhase::Rejected;
}

}  // namespace

// The true salinity lies within tolerance with the accepted risk at most (JCGM 106), now and when
// all is dissolved; by the cells and, where it agrees with them, by the dose. A proof holds up to a
// greater one, so that nothing opens and shuts the gate at the limit; once in doubt it takes the
// accepted risk again.
CheckResult on_target(const Round& round) {
  const Profile& profile = round.batch.profile;
  CheckResult result;
  result.needed_low = (profile.target - profile.tolerance).value();
  result.needed_high = (profile.target + profile.tolerance).value();
  const bool trusted = round.batch.is_proven() && !round.proof_doubted;
  const double accepted = trusted ? profile.risk_to_hold() : profile.risk;
  result.risk_accepted = accepted;
  if (!round.salinity.value || !round.batch.in_progress()) {
    result.verdict = Verdict::Waiting;
    return result;
  }
  const auto risk_of = [&](PracticalSalinity value, PracticalSalinity uncertainty) {
    return nonconformance_probability(value.value(), uncertainty.value(), *result.needed_low,
                                      *result.needed_high);
  };
  const PracticalSalinity now = *round.salinity.value;
  result.measured = now.value();
  double risk_at_the_end = 0.0;
  if (const auto& final = round.settling.final_salinity) {
    const auto together = round.dose ? fused(*final, *round.dose) : *final;
    risk_at_the_end = risk_of(together.value, together.standard_uncertainty);
    // What is measured now counts at once, whatever the course so far made one expect.
    const PracticalSalinity corrected = now + (together.value - final->value);
    const double u = std::hypot(together.standard_uncertainty.value(), round.salinity.budget.noise);
    result.risk = std::max(risk_at_the_end, risk_of(corrected, PracticalSalinity(u)));
  }
  // What may still dissolve, or a restless reading, can keep a batch waiting; only what it has come
  // to can condemn it.
  const bool condemned = round.settling.settled && risk_at_the_end > accepted;
  const bool too_strong = now.value() > *result.needed_high || now > end_of_practical_salinity;
  if (condemned || too_strong)
    result.verdict = Verdict::Violated;
  else
    result.verdict = result.risk && *result.risk <= accepted ? Verdict::Met : Verdict::Waiting;
  return result;
}

// What still dissolves is within what the profile allows, with 95 % confidence.
CheckResult dissolved(const Round& round) {
  CheckResult result;
  result.needed_high = round.batch.profile.still_to_dissolve.value();
  result.time_left = round.settling.time_left;
  if (round.settling.known)
    result.measured = round.settling.remaining_bound;
  result.verdict = round.settling.settled ? Verdict::Met : Verdict::Waiting;
  return result;
}

// S21: while the temperature ramps the salinity stays flat. One that follows it is computed with a
// compensation that is missing, doubled or wrong.
CheckResult temperature_flat(const Round& round) {
  constexpr double most_per_celsius = 0.4;  // PSU; a wrong compensation makes 0.5 to 1
  constexpr double sure = 0.999;
  const Forecast& forecast = round.settling.forecast;
  CheckResult result;
  result.needed_low = -most_per_celsius;
  result.needed_high = most_per_celsius;
  if (!round.settling.known) {
    result.verdict = Verdict::Waiting;
    return result;
  }
  const bool follows = forecast.follows_temperature_probability >= sure;
  result.measured = follows ? forecast.per_celsius : 0.0;
  result.verdict = std::abs(*result.measured) > most_per_celsius ? Verdict::Violated : Verdict::Met;
  return result;
}

// The dose is a witness: what was weighed in must be what is measured.
CheckResult as_dosed(const Round& round) {
  const Batch& batch = round.batch;
  CheckResult result;
  if (!batch.salt_noted) {
    result.verdict = batch.profile.dose_required ? Verdict::Waiting : Verdict::NotAsked;
    return result;
  }
  if (batch.is_proven()) {  // it agreed when the batch was proven, and nothing was added since
    result.verdict = Verdict::Met;
    return result;
  }
  if (!round.dose || !round.salinity.value || !is_mixing(batch)) {
    result.verdict = Verdict::Waiting;
    return result;
  }
  const Uncertain<PracticalSalinity> measured{
      *round.salinity.value, PracticalSalinity(round.salinity.standard_uncertainty)};
  const PracticalSalinity allowed = allowed_difference(*round.dose, measured);
  const PracticalSalinity expected = round.dose->predicted.value;
  result.measured = measured.value.value();
  result.needed_low = (expected - allowed).value();
  result.needed_high = (expected + allowed).value();
  if (!round.settling.settled && *result.measured <= *result.needed_high) {
    result.verdict = Verdict::Waiting;
    return result;
  }
  result.explanations = explanations(*round.dose, measured);
  result.verdict = result.explanations.empty() ? Verdict::Met : Verdict::Violated;
  return result;
}

CheckResult circulated(const Round& round) {
  CheckResult result;
  const Duration needed = round.batch.profile.circulate;
  result.measured = seconds(round.batch.circulated);
  result.needed_low = seconds(needed);
  const bool long_enough = round.batch.in_progress() && round.batch.circulated >= needed;
  result.verdict = long_enough ? Verdict::Met : Verdict::Waiting;
  if (!long_enough)
    result.time_left = needed - round.batch.circulated;
  return result;
}

// In its band with 95 % confidence, and not on its way out of it. A proven batch stays in it as
// measured.
CheckResult temperature_right(const Round& round) {
  constexpr double accepted_doubt = 0.05;
  const Profile& profile = round.batch.profile;
  CheckResult result;
  result.needed_low = profile.temperature_low.value();
  result.needed_high = profile.temperature_high.value();
  if (!round.temperature) {
    result.verdict = Verdict::Waiting;
    return result;
  }
  result.measured = round.temperature->value();
  if (*round.temperature > profile.temperature_high) {
    result.verdict = Verdict::Violated;
    return result;
  }
  const auto holds = [&profile](Celsius value) {
    return value >= profile.temperature_low && value <= profile.temperature_high;
  };
  const bool sure =
      nonconformance_probability(*result.measured, round.temperature_uncertainty,
                                 *result.needed_low, *result.needed_high) <= accepted_doubt;
  const bool right = holds(*round.temperature) && holds(round.temperature_ahead) &&
                     (sure || round.batch.is_proven());
  result.verdict = right ? Verdict::Met : Verdict::Waiting;
  return result;
}

CheckResult not_too_old(const Round& round) {
  CheckResult result;
  result.measured = seconds(round.batch.age);
  result.needed_high = seconds(round.batch.profile.keep);
  const bool fresh = round.batch.age <= round.batch.profile.keep;
  result.verdict = !round.batch.in_progress() ? Verdict::Waiting
                   : fresh                    ? Verdict::Met
                                              : Verdict::Violated;
  return result;
}

// S7, S16: a proof was given and nothing has taken it away.
CheckResult batch_proven(const Round& round) {
  CheckResult result;
  switch (round.batch.phase) {
    case BatchPhase::Proven:
    case BatchPhase::Drawing:
      result.verdict = Verdict::Met;
      break;
    case BatchPhase::Rejected:
      result.verdict = Verdict::Violated;
      break;
    case BatchPhase::Empty:
    case BatchPhase::Filling:
    case BatchPhase::Mixing:
      result.verdict = Verdict::Waiting;
      break;
  }
  return result;
}

}  // namespace brinegate::checks
