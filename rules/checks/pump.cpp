// SPDX-License-Identifier: Apache-2.0
// Checks on the pump, the level and everything that says where the water goes.
#include <algorithm>
#include <initializer_list>

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

CheckResult all_normal(const Round& round, std::initializer_list<AlarmId> alarms, bool asked) {
  CheckResult result;
  const bool normal = std::all_of(alarms.begin(), alarms.end(),
                                  [&](AlarmId id) { return round.alarms.is_normal(id); });
  result.verdict = !asked ? Verdict::NotAsked : normal ? Verdict::Met : Verdict::Violated;
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

// S5, S12, S14: the outputs answer, the read-backs follow them and nobody else drives them. After a
// discrepancy blocked until a person has acknowledged.
CheckResult pump_follows(const Round& round) {
  const auto& pump = round.station.pump;
  const CheckResult readback =
      all_normal(round, {AlarmId::PumpRunningWhileShut, AlarmId::PumpNotRunningWhileOpen},
                 pump && pump->has_readback);
  CheckResult result = all_normal(
      round,
      {AlarmId::DrainRunningWhileOff, AlarmId::DrainNotRunningWhileOn, AlarmId::OutputTakenOver},
      pump.has_value());
  result.verdict = std::min(result.verdict, readback.verdict);
  if (pump && result.verdict != Verdict::Violated)
    result.verdict = round.output_answers ? Verdict::Met : Verdict::Waiting;
  return result;
}

// S5, S20: no water leaves while the gate is shut.
CheckResult water_stays(const Round& round) {
  return all_normal(
      round, {AlarmId::LevelFallingWhileShut, AlarmId::FlowsOnAfterStop, AlarmId::DrainFlowsOn},
      round.station.pump && (has(round, Measures::Level) || has(round, Measures::Flow)));
}

// S6 in "while proven": a run that passed a limit shuts the gate until a person has seen why. S19:
// likewise an exchange that left the tank short of water.
CheckResult run_within_limits(const Round& round) {
  const auto& pump = round.station.pump;
  return all_normal(
      round, {AlarmId::RunLimitPassed, AlarmId::ExchangeUnfinished, AlarmId::ExchangeUnbalanced},
      pump && (pump->permit == PermitMode::WhileProven || round.station.drain));
}

// S18: top-off and dosing are held off from before a change until after it. A run "while proven"
// starts by itself: it goes on until its time to confirm is over, and then is an alarm.
CheckResult top_off_held(const Round& round) {
  CheckResult result;
  result.verdict = Verdict::NotAsked;
  const auto& pump = round.station.pump;
  if (!round.station.hold_off || !pump)
    return result;
  if (pump->permit == PermitMode::WhileProven)
    return all_normal(round, {AlarmId::TopOffNotHeld}, true);
  if (round.changing)
    result.verdict = round.hold_off.confirmed() ? Verdict::Met
                     : round.hold_off.lost()    ? Verdict::Violated
                                                : Verdict::Waiting;
  return result;
}

}  // namespace brinegate::checks
