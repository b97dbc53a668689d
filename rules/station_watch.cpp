// SPDX-License-Identifier: Apache-2.0
// What a station watches beside the water itself: the record, the pumps, what flows on after a
// stop, and that top-off and dosing are held off.
#include <algorithm>

#include "rules/station.h"

namespace brinegate {
namespace {

using namespace std::chrono_literals;

constexpr Duration record_alarm_after = 5s;

}  // namespace

void Station::supervise(const StationInputs& inputs, MonoTime now, StationOutcome& outcome) {
  if (inputs.record_kept)
    record_lost_since_.reset();
  else if (!record_lost_since_)
    record_lost_since_ = now;
  alarms_.set_condition(AlarmId::RecordFailing,
                        record_lost_since_ && now - *record_lost_since_ >= record_alarm_after, now);
  if (inputs.output_taken_over)
    alarms_.raise_once(AlarmId::OutputTakenOver, now);
  if (!spec_->pump)
    return;
  supervise_pump(now, outcome);
  if (spec_->drain)
    supervise_drain(now);
  if (spec_->hold_off)
    hold_off_top_off(now, outcome);
  follow_unfinished();
}

void Station::supervise_pump(MonoTime now, StationOutcome& outcome) {
  PumpEvidence evidence;
  evidence.asked_on = fills();
  evidence.volume = fresh_volume_;
  evidence.watch_level = batch_.in_progress() && batch_.phase != BatchPhase::Filling;
  if (const auto running = contact(Measures::PumpRunning))
    evidence.running = *running == 1.0;
  supervision_.step(*spec_->pump, evidence, now);
  alarms_.set_condition(AlarmId::PumpRunningWhileShut, supervision_.running_while_shut(), now);
  alarms_.set_condition(AlarmId::PumpNotRunningWhileOpen, supervision_.not_running_while_open(),
                        now);
  alarms_.set_condition(AlarmId::LevelFallingWhileShut, supervision_.falling_while_shut(), now);

  if (!evidence.watch_level)
    evidence.volume.reset();
  after_stop_.step(*spec_->pump, evidence, flow_evidence().flow, now);
  alarms_.set_condition(AlarmId::FlowsOnAfterStop, after_stop_.flows_on(), now);
  alarms_.set_condition(AlarmId::FlowsBackAfterStop, after_stop_.flows_back(), now);

  if (spec_->pump->permit == PermitMode::WhileProven)
    run_while_proven(evidence.asked_on && evidence.running.value_or(false), now, outcome);
}

void Station::supervise_drain(MonoTime now) {
  const PumpSpec& drain = spec_->drain->pump;
  PumpEvidence evidence;
  evidence.asked_on = drains();
  evidence.volume = fresh_tank_level_;
  if (const auto running = contact(Measures::DrainRunning))
    evidence.running = *running == 1.0;
  drain_supervision_.step(drain, evidence, now);
  alarms_.set_condition(AlarmId::DrainRunningWhileOff, drain_supervision_.running_while_shut(),
                        now);
  alarms_.set_condition(AlarmId::DrainNotRunningWhileOn,
                        drain_supervision_.not_running_while_open(), now);
  if (fills())
    after_drain_.level_changed_on_purpose();
  after_drain_.step(drain, evidence, tank_evidence().flow, now);
  alarms_.set_condition(AlarmId::DrainFlowsOn, after_drain_.flows_on(), now);
}

// A top-off would fill with fresh water what is missing of salt water.
bool Station::tank_may_be_low() const {
  constexpr std::array<AlarmId, 4> says_so{AlarmId::ChangeEndedEarly, AlarmId::ChangeInterrupted,
                                           AlarmId::ExchangeUnfinished,
                                           AlarmId::ExchangeUnbalanced};
  return std::any_of(says_so.begin(), says_so.end(),
                     [this](AlarmId id) { return !alarms_.is_normal(id); });
}

void Station::hold_off_top_off(MonoTime now, StationOutcome& outcome) {
  HoldOffEvidence evidence;
  evidence.wanted = change_ || run_while_proven_ || tank_may_be_low();
  evidence.level = has(Measures::TankLevel) ? fresh_tank_level_ : fresh_volume_;
  if (const auto held = contact(Measures::HeldOff))
    evidence.held = *held == 1.0;
  const HoldOffChanged before{hold_off_.asked(), hold_off_.confirmed()};
  hold_off_.step(*spec_->hold_off, evidence, now);
  const HoldOffChanged after{hold_off_.asked(), hold_off_.confirmed()};
  if (before.asked != after.asked || before.confirmed != after.confirmed)
    outcome.events.push_back(after);
  alarms_.set_condition(AlarmId::TopOffStillHeld, hold_off_.still_held(), now);
  // A run that starts by itself cannot wait for the confirmation: it is stopped without one.
  if (run_while_proven_ && (hold_off_.lost() || hold_off_.refused(*spec_->hold_off, now)))
    alarms_.raise_once(AlarmId::TopOffNotHeld, now);
}

bool Station::held_off() const {
  return !spec_->hold_off || hold_off_.confirmed();
}

bool Station::waits_for_hold_off() const {
  return std::all_of(checks_.begin(), checks_.end(), [](const CheckResult& check) {
    return lets_through(check) ||
           (check.id == CheckId::TopOffHeld && check.verdict == Verdict::Waiting);
  });
}

}  // namespace brinegate
