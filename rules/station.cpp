// SPDX-License-Identifier: Apache-2.0
#include "rules/station.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include "rules/seawater.h"
#include "rules/statistics.h"
#include "rules/waiver.h"

namespace brinegate {
namespace {

using namespace std::chrono_literals;

constexpr PracticalSalinity unmistakably_salty{5.0};  // a cell that then reads near 0 hangs in air

constexpr double settled_confidence = 0.95;
// A temperature is looked ahead by this share of the slowest part's time constant.
constexpr double look_ahead = 1.0 / 16;
constexpr double coarse_celsius = 0.1;

double days_since(WallTime then, WallTime now) {
  return then < earliest_believed ? 0.0 : std::max(0.0, seconds(now - then) / 86400.0);
}

}  // namespace

Station::Station(const StationSpec& spec)
    : spec_(&spec),
      calibrations_(spec.probes.size()),
      known_since_(spec.probes.size()),
      conditions_(spec.probes.size()),
      verifications_(spec.probes.size()),
      readings_(spec.probes.size()),
      faults_(spec.probes.size(), SampleFault::None),
      dissolution_(dissolution_of(Profile{})),
      temperature_trend_(temperature_trend_of(Profile{})) {
  judges_.reserve(spec.probes.size());
  for (const ProbeSpec& probe : spec.probes)
    judges_.emplace_back(probe);
  for (std::size_t i = 0; i < check_count; ++i)
    checks_[i].id = static_cast<CheckId>(i);
}

Dissolution Station::dissolution_of(const Profile& profile) {
  return {profile.slowest_part, profile.still_to_dissolve};
}

Trend Station::temperature_trend_of(const Profile& profile) {
  const double slowest = seconds(profile.slowest_part);
  return {coarse_celsius, from_seconds(slowest / 80), from_seconds(slowest / 8)};
}

StationOutcome Station::step(const StationInputs& inputs, Instant now) {
  StationOutcome outcome;
  outcome.events = std::exchange(restored_, {});
  take_samples(inputs, now, outcome);
  derive();
  derive_evenness(now.mono);
  end_interrupted_change(now.mono, outcome);
  outcome.answers.resize(inputs.commands.size());
  obey(inputs, false, now, outcome);
  add_age(now);
  take_lots(inputs.lots_recorded);
  progress_batch(now, outcome);
  expire_waivers(now.mono, outcome);
  supervise(inputs, now.mono, outcome);
  evaluate(inputs, now.mono);
  progress_proof(now, outcome);
  obey(inputs, true, now, outcome);
  run_change(inputs, now.mono, outcome);
  run_gate(inputs, now, outcome);
  for (const Alarm& alarm : alarms_.take_changes())
    outcome.events.push_back(AlarmChanged{alarm});
  outcome.pump_on = fills();
  outcome.drain_on = drains();
  outcome.hold_off_on = spec_->hold_off && hold_off_.asked();
  outcome.second_cutoff_on = !inputs.ending && alarms_.is_normal(AlarmId::PumpRunningWhileShut) &&
                             alarms_.is_normal(AlarmId::PumpNotRunningWhileOpen) &&
                             alarms_.is_normal(AlarmId::FlowsOnAfterStop);
  stepped_ = now.mono;
  return outcome;
}

void Station::take_samples(const StationInputs& inputs, Instant now, StationOutcome& outcome) {
  for (const ProbeSample& arrived : inputs.samples) {
    const JudgedSample judged = judges_[arrived.probe].take(
        arrived.sample, calibrations_[arrived.probe], batch_.salt_seen, now);
    outcome.judged.emplace_back(arrived.probe, judged);
  }
  for (std::size_t i = 0; i < judges_.size(); ++i) {
    readings_[i] = judges_[i].reading(now.mono);
    faults_[i] = judges_[i].last_fault();
    const WallTime calibrated = calibrations_[i].at;
    conditions_[i] = {
        days_since(calibrated < earliest_believed ? known_since_[i] : calibrated, now.wall),
        judges_[i].noise().standard_deviation(), judges_[i].noise().resolution()};
  }
}

// The thermometer of the first cell that has one, else the first there is: others may hang in the
// room or in the tank.
std::optional<std::size_t> Station::batch_thermometer() const {
  const auto& probes = spec_->probes;
  for (const ProbeSpec& probe : probes)
    if (probe.temperature_from)
      return probe.temperature_from;
  for (std::size_t i = 0; i < probes.size(); ++i)
    if (probes[i].measures == Measures::Temperature)
      return i;
  return std::nullopt;
}

void Station::derive() {
  salinity_ = estimate_salinity(spec_->probes, readings_, conditions_, batch_.salt_factor);
  temperature_.reset();
  volume_.reset();
  fresh_volume_.reset();
  tank_level_.reset();
  fresh_tank_level_.reset();
  for (std::size_t i = 0; i < readings_.size(); ++i) {
    const auto value = readings_[i].good_value();
    if (!value)
      continue;
    if (i == batch_thermometer()) {
      temperature_ = Celsius(*value);
      temperature_trend_.add(readings_[i].taken(), *value);
    }
    if (spec_->probes[i].measures == Measures::Level && !volume_) {
      volume_ = Litres(*value);
      if (readings_[i].taken() > volume_taken_)
        fresh_volume_ = volume_;
      volume_taken_ = readings_[i].taken();
    }
    if (spec_->probes[i].measures == Measures::TankLevel && !tank_level_) {
      tank_level_ = Litres(*value);
      if (readings_[i].taken() > tank_level_taken_)
        fresh_tank_level_ = tank_level_;
      tank_level_taken_ = readings_[i].taken();
    }
  }
  follow_dissolution();
}

void Station::follow_dissolution() {
  const bool holds_salt = batch_.phase != BatchPhase::Empty && batch_.phase != BatchPhase::Filling;
  const bool replayed = salinity_.simulated && spec_->pump && !spec_->pump->simulated;
  if (!holds_salt || replayed)
    start_course_afresh();
  const bool judged = holds_salt && !replayed && (batch_.is_proven() || is_circulating());
  if (judged && !water_moved_)
    dissolution_.resume();
  water_moved_ = judged;
  if (judged && salinity_.value && temperature_ && salinity_.taken > dissolution_at_) {
    dissolution_.add({salinity_.taken, *salinity_.value, *temperature_, salinity_.per_celsius});
    dissolution_at_ = salinity_.taken;
  }
  derive_settling(judged);
}

// Settled is what the forecast says with confidence and what the latest samples bear out.
void Station::derive_settling(bool judged) {
  const double allowed = batch_.profile.still_to_dissolve.value();
  const Settling before = std::exchange(settling_, {});
  settling_.forecast = dissolution_.forecast();
  const Forecast& forecast = settling_.forecast;
  settling_.known = judged && forecast.known;
  if (settling_.known) {
    settling_.course_final =
        Uncertain<PracticalSalinity>{forecast.final, PracticalSalinity(forecast.final_uncertainty)};
    settling_.remaining_bound =
        std::abs(forecast.remaining) + one_sided_95_percent * forecast.remaining_uncertainty;
    settling_.settled = batch_.is_proven() ? settling_.remaining_bound <= proven_allowance * allowed
                                           : forecast.settled_probability >= settled_confidence &&
                                                 forecast.course_agrees;
    if (!settling_.settled)
      settling_.time_left = forecast.time_left;
  }
  // A forecast that begins anew neither breaks off a change nor makes proven water less sure: it is
  // held to what it had settled at, as closely as is allowed to dissolve.
  const bool holds = judged && batch_.is_proven() && before.settled && salinity_.value &&
                     std::abs((*salinity_.value - before.course_final->value).value()) <= allowed;
  if (holds && !settling_.settled)
    settling_ = before;
  else if (holds &&
           before.course_final->standard_uncertainty < settling_.course_final->standard_uncertainty)
    settling_.course_final = before.course_final;
  settling_.final_salinity.reset();
  if (const auto& course = settling_.course_final; course && salinity_.value)
    settling_.final_salinity = Uncertain<PracticalSalinity>{
        course->value, PracticalSalinity(std::hypot(salinity_.systematic_uncertainty,
                                                    course->standard_uncertainty.value()))};
}

// Also of the last batch, of which a rest may go into the next one.
void Station::add_age(Instant now) {
  if (stepped_)
    batch_.age += now.mono - *stepped_;
  // How long we were away only the wall clock can say; it is believed once it is past the time at
  // which the state was saved.
  if (age_unknown_since_ && now.wall >= *age_unknown_since_) {
    batch_.age += now.wall - *age_unknown_since_;
    batch_.standing += now.wall - *age_unknown_since_;  // nobody saw the water move
    age_unknown_since_.reset();
  }
}

// Nothing that was concluded from the course so far holds for the water as it is now.
void Station::start_course_afresh() {
  dissolution_.restart();
  conclude_afresh();
}

void Station::conclude_afresh() {
  settling_ = {};
  proof_checks_met_since_.reset();
  rejection_since_.reset();
}

bool Station::is_circulating() const {
  return contact(Measures::Circulation).value_or(0.0) == 1.0 || !has(Measures::Circulation);
}

bool Station::has(Measures measures) const {
  return std::any_of(spec_->probes.begin(), spec_->probes.end(),
                     [measures](const ProbeSpec& probe) { return probe.measures == measures; });
}

std::optional<double> Station::contact(Measures measures) const {
  for (std::size_t i = 0; i < readings_.size(); ++i)
    if (spec_->probes[i].measures == measures)
      return readings_[i].good_value();
  return std::nullopt;
}

void Station::progress_batch(Instant now, StationOutcome& outcome) {
  if (!batch_.in_progress())
    return;
  const bool holds_salt = batch_.phase != BatchPhase::Filling;
  if (stepped_ && holds_salt && is_circulating())
    batch_.circulated += now.mono - *stepped_;
  if (stepped_)
    batch_.standing += now.mono - *stepped_;
  if (salinity_.value && *salinity_.value >= unmistakably_salty)
    batch_.salt_seen = true;
  const bool salty_now = salinity_.value && *salinity_.value >= salty;
  if (batch_.phase == BatchPhase::Filling && (batch_.salt_noted || salty_now))
    batch_.phase = BatchPhase::Mixing;
  if (edited_ && batch_.proof)
    void_proof(*edited_, outcome);
  edited_.reset();
  if (batch_.proof)
    if (const auto reason = water_changed(now.mono))
      void_proof(*reason, outcome);
  drop_hand_tests_of_other_water();
  if (is_circulating())
    batch_.standing = Duration::zero();
}

void Station::evaluate(const StationInputs& inputs, MonoTime now) {
  // What came unannounced is not in the dose: once the course has shown such a surprise the dose is
  // no witness to be joined with the cells any more.
  const bool joined_before = dose_ ? dose_->independent : !batch_.is_proven();
  dose_ = dose_witness(batch_, volume_, temperature_, *spec_);
  if (dose_)
    dose_->independent &= batch_.is_proven() ? joined_before : dissolution_.surprises() == 0;
  // Nor is a dose that a person has told us to pass over.
  if (dose_ && waiver_of(batch_, CheckId::AsDosed) != nullptr)
    dose_->independent = false;
  const Round round{.station = *spec_,
                    .batch = batch_,
                    .readings = readings_,
                    .faults = faults_,
                    .salinity = salinity_,
                    .settling = settling_,
                    .temperature = temperature_,
                    .temperature_ahead = temperature_ahead(),
                    .temperature_uncertainty = temperature_uncertainty(),
                    .volume = volume_,
                    .dose = dose_,
                    .alarms = alarms_,
                    .record_kept = inputs.record_kept,
                    .output_answers = inputs.output_answers,
                    .verifications = verifications_,
                    .changing = change_.has_value(),
                    .hold_off = hold_off_,
                    .proof_doubted = doubted_since_.has_value(),
                    .evenly_moved = evenly_since_ ? now - *evenly_since_ : Duration::zero()};
  checks_before_.swap(checks_);
  checks_ = evaluate_checks(round);
  CheckResult& age = checks_[static_cast<std::size_t>(CheckId::NotTooOld)];
  if (age_unknown_since_)
    age.verdict = std::min(age.verdict, Verdict::Waiting);
  for (std::size_t i = 0; i < check_count; ++i) {
    const bool same = stepped_ && checks_before_[i].verdict == checks_[i].verdict;
    checks_[i].since = same ? checks_before_[i].since : now;
    checks_[i].waived = batch_.in_progress() && waiver_of(batch_, checks_[i].id) != nullptr;
  }
  doubt_proof(now);
}

Celsius Station::temperature_ahead() const {
  const double ahead = look_ahead * seconds(batch_.profile.slowest_part);
  return Celsius(temperature_trend_.level() + temperature_trend_.per_second() * ahead);
}

double Station::temperature_uncertainty() const {
  const auto thermometer = batch_thermometer();
  return thermometer ? standard_uncertainty(spec_->probes[*thermometer].uncertainty,
                                            temperature_trend_.level())
                     : 0.0;
}

bool Station::every_check_met() const {
  return std::all_of(checks_.begin(), checks_.end(),
                     [](const CheckResult& check) { return lets_through(check); });
}

bool Station::proof_checks_met() const {
  return std::all_of(checks_.begin(), checks_.end(), [](const CheckResult& check) {
    return !check_row(check.id).proves || lets_through(check);
  });
}

// The check that went from met to not met in this round, else whatever is not met.
std::optional<CheckId> Station::first_unmet() const {
  for (std::size_t i = 0; i < check_count; ++i)
    if (!lets_through(checks_[i]) && lets_through(checks_before_[i]))
      return checks_[i].id;
  for (const CheckResult& check : checks_)
    if (!lets_through(check))
      return check.id;
  return std::nullopt;
}

Duration Station::dwell() const {
  return spec_->pump ? spec_->pump->dwell : Duration(10s);
}

std::optional<Duration> Station::dwell_left(MonoTime now) const {
  return gate_.dwell_left(dwell(), now);
}

void Station::progress_proof(Instant now, StationOutcome& outcome) {
  if (batch_.phase != BatchPhase::Mixing && batch_.phase != BatchPhase::Rejected)
    return;
  const auto lasts = [&](bool condition, std::optional<MonoTime>& since) {
    if (!condition)
      since.reset();
    else if (!since)
      since = now.mono;
    return since && now.mono - *since >= dwell();
  };
  const auto violated = [&](CheckId id) {
    return checks_[static_cast<std::size_t>(id)].verdict == Verdict::Violated;
  };
  if (lasts(proof_checks_met() && temperature_.has_value(), proof_checks_met_since_)) {
    const CheckResult& target = checks_[static_cast<std::size_t>(CheckId::OnTarget)];
    batch_.proof = Proof{PracticalSalinity(*target.measured),
                         salinity_.standard_uncertainty,
                         *target.risk,
                         *temperature_,
                         volume_,
                         now.wall,
                         waived_of_proof()};
    batch_.phase = BatchPhase::Proven;
    batch_.voided = ProofVoid::None;
    doubted_since_.reset();
    batch_.lowest_volume = volume_;
    batch_.evaporated = Litres(0.0);
    batch_.unevaporated.reset();
    outcome.events.push_back(BatchProven{*batch_.proof});
    batch_.teaches &= !batch_.proof->waived.contains(CheckId::AsDosed);
    // What several lots came to tells of none.
    if (std::exchange(batch_.teaches, false) && batch_.lots.parts.size() == 1)
      if (const auto yield = observed_yield(batch_, *spec_))
        outcome.events.push_back(YieldObserved{*yield});
    return;
  }
  const bool unfit = violated(CheckId::OnTarget) || violated(CheckId::AsDosed);
  const bool rejected = lasts(unfit && settling_.settled, rejection_since_);
  if (rejected && violated(CheckId::AsDosed))
    batch_.teaches = false;
  if (rejected && batch_.phase == BatchPhase::Mixing) {
    batch_.phase = BatchPhase::Rejected;
    BatchRejected event;
    std::copy_if(checks_.begin(), checks_.end(), std::back_inserter(event.violated),
                 [](const CheckResult& check) { return check.verdict == Verdict::Violated; });
    outcome.events.push_back(std::move(event));
  }
  if (!unfit && batch_.phase == BatchPhase::Rejected)
    batch_.phase = BatchPhase::Mixing;
}

}  // namespace brinegate
