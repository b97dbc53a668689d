// SPDX-License-Identifier: Apache-2.0
// Checks on the pump, the level and everything that says where the water goes.
#include "rules/checks/checks.h"

namespace brinegate::checks {
namespace {

// A dry contact for all probes of this kind: not asked where there is none, waiting for a reading.
CheckResult contact_open(const Round& round, Measures measures) {
  CheckResult result;
  result.verdict = Verdict::NotAsked;
  const auto worsen = [&result](Verdict verdict) {
    if (result.verdict == Verdict::NotAsked || verdict < result.verdict)
      result.verdict = verdict;
  };
  for (std::size_t i = 0; i < round.readings.size(); ++i) {
    if (round.station.probes[i].measures != measures)
      continue;
    const auto contact = round.readings[i].good_value();
    worsen(!contact ? Verdict::Waiting : *contact == 0.0 ? Verdict::Met : Verdict::Violated);
    if (!contact || *contact != 0.0)
      result.troubles.push_back({i, round.readings[i].reason(), round.faults[i]});
  }
  return result;
}

CheckResult alarm_is_normal(const Round& round, AlarmId id, bool asked) {
  CheckResult result;
  result.verdict = !asked                       ? Verdict::NotAsked
                   : round.alarms.is_normal(id) ? Verdict::Met
                                                : Verdict::Violated;
  return result;
}

bool has(const Round& round, Measures measures) {
  for (const ProbeSpec& probe : round.station.probes)
    if (probe.measures == measures)
      return true;
  return false;
}

}  // namespace

CheckResult no_leak(const Round& round) {
  return contact_open(round, Measures::Leak);
}

CheckResult tank_not_full(const Round& round) {
  return contact_open(round, Measures::TankHigh);
}

// S6: low level, by the level and by an independent contact where there is one.
CheckResult level_above_low(const Round& round) {
  CheckResult result = contact_open(round, Measures::ReservoirLow);
  if (!has(round, Measures::Level))
    return result;
  result.needed_low = round.station.low_level.value();
  if (!round.volume) {
    result.verdict = result.verdict == Verdict::Violated ? Verdict::Violated : Verdict::Waiting;
    return result;
  }
  result.measured = round.volume->value();
  if (*round.volume <= round.station.low_level)
    result.verdict = Verdict::Violated;
  else if (result.verdict == Verdict::NotAsked)
    result.verdict = Verdict::Met;
  return result;
}

// S5, S12: the output answers and the read-back follows it. After a discrepancy blocked until a
// person has acknowledged.
CheckResult pump_follows(const Round& round) {
  const bool has_readback = round.station.pump && round.station.pump->has_readback;
  const CheckResult shut = alarm_is_normal(round, AlarmId::PumpRunningWhileShut, has_readback);
  const CheckResult open = alarm_is_normal(round, AlarmId::PumpNotRunningWhileOpen, has_readback);
  CheckResult result = shut.verdict < open.verdict ? shut : open;
  if (round.station.pump && result.verdict != Verdict::Violated)
    result.verdict = round.output_answers ? Verdict::Met : Verdict::Waiting;
  return result;
}

// S5: no water leaves while the gate is shut.
CheckResult water_stays(const Round& round) {
  return alarm_is_normal(round, AlarmId::LevelFallingWhileShut,
                         round.station.pump && has(round, Measures::Level));
}

// S6 in "while proven": a run that passed a limit shuts the gate until a person has seen why.
CheckResult run_within_limits(const Round& round) {
  return alarm_is_normal(
      round, AlarmId::RunLimitPassed,
      round.station.pump && round.station.pump->permit == PermitMode::WhileProven);
}

}  // namespace brinegate::checks
