// SPDX-License-Identifier: Apache-2.0
// A water change as the station lives it: its runs, its end, the gate, and what outlives the
// process.
#include <algorithm>
#include <utility>

#include "rules/seawater.h"
#include "rules/station.h"

namespace brinegate {

FlowEvidence Station::flow_evidence() const {
  FlowEvidence evidence;
  evidence.volume = fresh_volume_;
  if (const auto flow = contact(Measures::Flow))
    evidence.flow = LitresPerMinute(*flow);
  return evidence;
}

FlowEvidence Station::tank_evidence() const {
  FlowEvidence evidence;
  evidence.volume = fresh_tank_level_;
  if (const auto flow = contact(Measures::DrainFlow))
    evidence.flow = LitresPerMinute(*flow);
  return evidence;
}

bool Station::fills() const {
  const bool exchanging = change_ && change_->exchange;
  return gate_.state() == GateState::Open &&
         (!exchanging || change_->exchange->phase() == ExchangePhase::Returning);
}

bool Station::drains() const {
  return gate_.state() == GateState::Open && change_ && change_->exchange &&
         change_->exchange->phase() == ExchangePhase::Draining;
}

// S19: with what the level leaves open, taken at its worst.
Litres Station::surely_above_low() const {
  const auto level =
      std::find_if(spec_->probes.begin(), spec_->probes.end(),
                   [](const ProbeSpec& probe) { return probe.measures == Measures::Level; });
  if (!volume_ || level == spec_->probes.end())
    return Litres(0.0);
  const Litres uncertainty(standard_uncertainty(level->uncertainty, volume_->value()));
  return *volume_ - half_interval_95(Uncertain<Litres>{*volume_, uncertainty}) - spec_->low_level;
}

// The gate is open and what the pump feeds starts and stops it; each run has the station's limits.
void Station::run_while_proven(bool runs, MonoTime now, StationOutcome& outcome) {
  if (runs && !run_while_proven_) {
    run_permit_ = gate_.permit()->id;
    run_while_proven_ = PumpRun({volume_, std::nullopt}, now);
    if (spec_->hold_off)
      hold_off_.begin(now);
    outcome.events.push_back(PumpRunBegan{run_permit_});
  }
  if (!runs && run_while_proven_) {
    const Litres drawn = run_while_proven_->drawn();
    account_drawn(drawn);
    outcome.events.push_back(
        ChangeEnded{run_permit_, spec_->pump->max_volume, drawn, ChangeEnd::Stopped, std::nullopt});
    run_while_proven_.reset();
  }
  if (!run_while_proven_)
    return;
  run_while_proven_->step(flow_evidence(), now);
  if (limit_of(*run_while_proven_, *spec_, spec_->pump->max_volume, now))
    alarms_.raise_once(AlarmId::RunLimitPassed, now);
}

void Station::end_interrupted_change(MonoTime now, StationOutcome& outcome) {
  const bool can_tell = !has(Measures::Level) || volume_.has_value();
  const bool tank_can_tell = !has(Measures::TankLevel) || tank_level_.has_value();
  if (!interrupted_ || !can_tell || (interrupted_->exchange && !tank_can_tell))
    return;
  const Litres drawn = volume_ && interrupted_->start_volume
                           ? std::max(Litres(0.0), *interrupted_->start_volume - *volume_)
                           : interrupted_->asked;  // at most
  account_drawn(drawn);
  ChangeEnded ended{interrupted_->permit, interrupted_->asked, drawn, ChangeEnd::Interrupted,
                    std::nullopt};
  if (const auto& exchange = interrupted_->exchange) {
    ended.exchange = ExchangeAmounts{exchange->most_drained, drawn, std::nullopt};
    if (exchange->tank_start && tank_level_)
      ended.exchange->tank_lacks = *exchange->tank_start - *tank_level_;
    leave_unfinished(ended, exchange->tank_start, now);
  }
  outcome.events.push_back(std::move(ended));
  interrupted_.reset();
}

bool Station::level_is_low() const {
  return volume_ && *volume_ <= spec_->low_level + Litres(0.5);
}

// What was drawn has taken its salt along, so that the dose remains a witness for what is left.
void Station::account_drawn(Litres drawn) {
  batch_.drawn += drawn;
  const auto salinity = batch_.proof ? std::optional(batch_.proof->salinity) : salinity_.value;
  if (salinity && temperature_)
    batch_.dry_salt -= Grams(drawn.value() * salt_grams_per_litre(*salinity, *temperature_));
}

// S19: whatever ended it, a tank that is short of water is what a person must know of first.
void Station::leave_unfinished(const ChangeEnded& ended, std::optional<Litres> tank_start,
                               MonoTime now) {
  const Litres missing = ended.exchange->missing();
  const Litres tolerance = spec_->drain ? spec_->drain->tolerance : Litres(0.0);
  if (missing > tolerance && ended.end != ChangeEnd::VolumeReached)
    alarms_.raise_once(AlarmId::ExchangeUnfinished, now);
  else if (missing > tolerance || -missing > tolerance)
    alarms_.raise_once(AlarmId::ExchangeUnbalanced, now);
  if (!alarms_.is_normal(AlarmId::ExchangeUnfinished))
    unfinished_ =
        UnfinishedExchange{ended.permit, batch_.id, ended.asked, *ended.exchange, tank_start, true};
}

// People fill it by hand, and the level shows how far they are.
void Station::follow_unfinished() {
  if (alarms_.is_normal(AlarmId::ExchangeUnfinished))
    unfinished_.reset();
  if (unfinished_ && unfinished_->tank_start && tank_level_)
    unfinished_->amounts.tank_lacks = *unfinished_->tank_start - *tank_level_;
}

void Station::end_change(ChangeEnd end, MonoTime now, StationOutcome& outcome) {
  const Litres drawn = change_->run ? change_->run->drawn() : Litres(0.0);
  account_drawn(drawn);
  if (batch_.phase == BatchPhase::Drawing)
    batch_.phase = batch_.proof ? BatchPhase::Proven : BatchPhase::Mixing;
  ChangeEnded ended{change_->permit, change_->asked, drawn, end, std::nullopt};
  if (change_->exchange) {
    ended.exchange = change_->exchange->amounts();
    leave_unfinished(ended, change_->exchange->tank_start(), now);
  }
  if (end == ChangeEnd::DrainFlowsOn)
    alarms_.raise_once(AlarmId::DrainFlowsOn, now);
  if (end < ChangeEnd::Stopped && alarms_.is_normal(AlarmId::ExchangeUnfinished))
    alarms_.raise_once(AlarmId::ChangeEndedEarly, now);
  outcome.events.push_back(std::move(ended));
  change_.reset();
}

void Station::step_change(MonoTime now, StationOutcome& outcome) {
  if (!change_->run)
    return;
  auto& exchange = change_->exchange;
  if (!exchange)
    return change_->run->step(flow_evidence(), now);
  const ExchangePhase phase = exchange->phase();
  if (phase == ExchangePhase::Returning)
    change_->run->step(flow_evidence(), now);
  else
    change_->run->stand(flow_evidence(), now);
  exchange->step(*spec_->drain, tank_evidence(), change_->run->drawn(), now);
  if (exchange->phase() != phase)
    outcome.events.push_back(
        ExchangeWentOn{change_->permit, exchange->phase(), exchange->amounts()});
}

std::optional<ChangeEnd> Station::end_of_change(MonoTime now) const {
  if (!change_->run)
    return spec_->hold_off && hold_off_.refused(*spec_->hold_off, now)
               ? std::optional(ChangeEnd::NotHeldOff)
               : std::nullopt;
  const auto of_run = limit_of(*change_->run, *spec_, change_->asked, now);
  if (!change_->exchange)
    return of_run;
  if (const auto of_exchange = limit_of(*change_->exchange, *spec_->drain, now))
    return of_exchange;
  if (change_->exchange->complete())
    return ChangeEnd::VolumeReached;
  // What is asked was returned: the levels come to rest before it is told.
  return of_run == ChangeEnd::VolumeReached ? std::nullopt : of_run;
}

void Station::run_change(const StationInputs& inputs, MonoTime now, StationOutcome& outcome) {
  if (!change_)
    return;
  step_change(now, outcome);
  if (inputs.ending)
    end_change(ChangeEnd::Interrupted, now, outcome);
  else if (const auto end = end_of_change(now))
    end_change(*end, now, outcome);
}

Permit Station::next_permit() const {
  Permit permit;
  permit.id = batch_.id + "-p" + std::to_string(batch_.permits + 1);
  permit.batch = batch_.id;
  permit.lot = batch_.lot;
  permit.risk = batch_.proof ? batch_.proof->risk : 1.0;
  permit.volume = change_ ? change_->asked : spec_->pump->max_volume;
  return permit;
}

void Station::begin_run(MonoTime now, StationOutcome& outcome) {
  batch_.phase = BatchPhase::Drawing;
  change_->run = PumpRun({volume_, std::nullopt}, now);
  if (!spec_->drain)
    return;
  change_->exchange = TankExchange(*spec_->drain, change_->asked, {tank_level_, std::nullopt}, now);
  outcome.events.push_back(
      ExchangeWentOn{change_->permit, change_->exchange->phase(), change_->exchange->amounts()});
}

void Station::run_gate(const StationInputs& inputs, Instant now, StationOutcome& outcome) {
  if (!spec_->pump)
    return;
  GateInputs gate_inputs;
  gate_inputs.every_check_met = every_check_met();
  gate_inputs.first_unmet = first_unmet();
  // An open gate belongs to the change that runs; a change that does not run yet starts from shut.
  const bool change_wants =
      change_ && (change_->run || (gate_.state() == GateState::Shut && held_off()));
  gate_inputs.wanted =
      !inputs.ending && (change_wants || spec_->pump->permit == PermitMode::WhileProven);
  gate_inputs.permit = next_permit();
  gate_inputs.on_record = inputs.permit_on_record;
  gate_inputs.dwell = dwell();
  const std::string permit_before = gate_.permit() ? gate_.permit()->id : "";

  switch (gate_.step(gate_inputs, now.mono)) {
    case GateChange::None:
      break;
    case GateChange::PermitNeeded:
      ++batch_.permits;
      if (change_)
        change_->permit = gate_.permit()->id;
      outcome.events.push_back(PermitAsked{*gate_.permit()});
      break;
    case GateChange::PermitWithdrawn:
      outcome.events.push_back(PermitWithdrawn{});
      break;
    case GateChange::Opened:
      outcome.events.push_back(GateOpened{*gate_.permit()});
      if (change_ && batch_.is_proven())
        begin_run(now.mono, outcome);
      break;
    case GateChange::Shut: {
      GateShut event{permit_before, std::nullopt};
      if (gate_.first_out())
        event.first_out = checks_[static_cast<std::size_t>(*gate_.first_out())];
      outcome.events.push_back(std::move(event));
      break;
    }
  }
  if (change_ && gate_.state() == GateState::Shut && !gate_inputs.every_check_met &&
      !waits_for_hold_off())
    end_change(ChangeEnd::GateShut, now.mono, outcome);
  const bool used_up = batch_.drawn.value() > 0.0 && !change_ && level_is_low();
  if (batch_.phase == BatchPhase::Proven && used_up) {
    outcome.events.push_back(BatchEnded{batch_, BatchEnd::Used});
    batch_.phase = BatchPhase::Empty;
    batch_.waivers.clear();
    batch_.proof.reset();
  }
}

// What would have been interrupted, if the process ended now.
std::optional<ChangeUnderWay> Station::under_way() const {
  if (run_while_proven_)
    return ChangeUnderWay{run_permit_, spec_->pump->max_volume, run_while_proven_->start_volume(),
                          std::nullopt};
  if (!change_ || change_->permit.empty())
    return interrupted_;
  ChangeUnderWay change{change_->permit, change_->asked,
                        change_->run ? change_->run->start_volume() : volume_, std::nullopt};
  if (const auto& exchange = change_->exchange) {
    const bool drains = exchange->phase() == ExchangePhase::Draining;
    const ExchangeAmounts amounts = exchange->amounts();
    change.exchange =
        ExchangeUnderWay{drains ? std::max(exchange->to_drain(), amounts.drained) : amounts.drained,
                         amounts.returned, exchange->tank_start()};
  }
  return change;
}

StationMemory Station::memory(Instant now) const {
  StationMemory memory;
  memory.batch = batch_;
  memory.saved = age_unknown_since_.value_or(now.wall);
  memory.change = under_way();
  memory.unfinished = unfinished_;
  for (const Alarm& alarm : alarms_.standing())
    memory.alarms.emplace_back(alarm.id, alarm.state);
  return memory;
}

void Station::restore(const StationMemory& memory, const std::optional<Profile>& configured,
                      Instant now, const std::vector<BatchSalt>& lots) {
  batch_ = memory.batch;
  hold_against_configuration(configured);
  take_lots(lots);
  dissolution_ = dissolution_of(batch_.profile);
  temperature_trend_ = temperature_trend_of(batch_.profile);
  age_unknown_since_ = memory.saved;
  for (const auto& [id, state] : memory.alarms)
    alarms_.restore(id, state, now.mono);
  if (batch_.phase == BatchPhase::Drawing)
    batch_.phase = BatchPhase::Proven;
  unfinished_ = memory.unfinished;
  for (const Waiver& waiver : std::exchange(batch_.waivers, {}))
    restored_.emplace_back(WaiverEnded{waiver, WaiverEnd::Restarted});
  interrupted_ = memory.change;
  if (!interrupted_)
    return;
  const auto& exchange = interrupted_->exchange;
  if (!exchange || exchange->most_drained <= exchange->returned)
    return alarms_.raise_once(AlarmId::ChangeInterrupted, now.mono);
  alarms_.raise_once(AlarmId::ExchangeUnfinished, now.mono);
  unfinished_ = UnfinishedExchange{
      interrupted_->permit, batch_.id,
      interrupted_->asked,  {exchange->most_drained, exchange->returned, std::nullopt},
      exchange->tank_start, false};
}

}  // namespace brinegate
