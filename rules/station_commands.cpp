// SPDX-License-Identifier: Apache-2.0
// What a person or a program may ask of a station. Nothing here can open the gate against a check:
// a change is accepted only when everything is already met, and the gate still decides by itself.
#include <algorithm>
#include <utility>
#include <variant>

#include "rules/seawater.h"
#include "rules/station.h"

namespace brinegate {
namespace {

CommandAnswer answer(AnswerCode code) {
  CommandAnswer a;
  a.code = code;
  return a;
}

constexpr Celsius room_temperature{25.0};

// `expires_in` of the salt's lot counts from the batch's begin.
void add_salt(Batch& batch, const SaltOfLot& salt) {
  for (const LotPart& part : salt.lot.parts) {
    int& version = batch.relied_on.lots[part.lot];
    version = std::max(version, part.version);
  }
  const Grams dry = salt.weighed * salt.product.dry_fraction;
  batch.dry_salt += dry;
  batch.salt_noted |= salt.weighed > Grams(0.0);
  add_portion(batch, {salt.lot, salt.product, salt.weighed, dry});
}

// Cells that the last batch made expect salt take fresh water for air. Where the reservoir is at
// least half full it is water: so much salt water that they hang above would be disputed by the
// dose.
bool takes_fresh_water_for_air(const StationSpec& station, const std::vector<Reading>& readings,
                               std::optional<Litres> volume) {
  if (!volume || *volume < station.capacity * 0.5)
    return false;
  for (std::size_t i = 0; i < readings.size(); ++i)
    if (is_salinity_cell(station.probes[i].measures) &&
        readings[i].reason() != QualityReason::InAir)
      return false;
  return true;
}

}  // namespace

void Station::obey(const StationInputs& inputs, bool changes, Instant now,
                   StationOutcome& outcome) {
  for (std::size_t i = 0; i < inputs.commands.size(); ++i) {
    const Command& command = inputs.commands[i];
    if (std::holds_alternative<ChangeCommand>(command) != changes)
      continue;
    if (inputs.ending)
      outcome.answers[i] = answer(AnswerCode::Ending);
    else if (changes && i + 1 < inputs.commands.size())
      outcome.answers[i] = answer(AnswerCode::Superseded);  // a stop after it must not be lost
    else
      outcome.answers[i] =
          std::visit([&](const auto& asked) { return obey_one(asked, now, outcome); }, command);
  }
}

CommandAnswer Station::obey_one(const BeginCommand& command, Instant now, StationOutcome& outcome) {
  if (change_)
    return answer(AnswerCode::ChangeRunning);
  if (batch_.in_progress() && batch_.phase != BatchPhase::Proven)
    return answer(AnswerCode::BatchInProgress);

  Batch batch;
  batch.id = command.batch;
  batch.profile = command.profile;
  batch.salt_factor = command.salt_factor;
  batch.begun = now.wall;
  batch.relied_on = relied_on(command.profile);
  batch.phase = BatchPhase::Filling;
  batch.rest = std::max(Litres(0.0), volume_.value_or(Litres(0.0)));
  const bool fresh = salinity_.value ? *salinity_.value < salty
                                     : takes_fresh_water_for_air(*spec_, readings_, volume_);
  if (salinity_.value)
    batch.rest_salinity = *salinity_.value;
  else if (!fresh && batch_.proof && batch_.in_progress())
    batch.rest_salinity = batch_.proof->salinity;
  batch.dry_salt =
      Grams(batch.rest.value() *
            salt_grams_per_litre(batch.rest_salinity, temperature_.value_or(room_temperature)));
  const bool holds_nothing = volume_ && *volume_ <= spec_->capacity * 0.01;
  batch.teaches = fresh || holds_nothing;
  if (!batch.teaches && batch.dry_salt > Grams(0.0))
    take_rest_of_last_batch(batch);
  for (const SaltOfLot& salt : command.salts)
    add_salt(batch, salt);
  if (batch.salt_noted)
    batch.phase = BatchPhase::Mixing;
  if (batch_.in_progress())
    outcome.events.push_back(BatchEnded{batch_, BatchEnd::Replaced});
  batch_ = std::move(batch);
  age_unknown_since_.reset();
  start_course_afresh();
  dissolution_ = dissolution_of(batch_.profile);
  temperature_trend_ = temperature_trend_of(batch_.profile);
  level_changed_on_purpose();
  outcome.events.push_back(BatchBegan{});
  return answer(AnswerCode::Done);
}

// What is left in the reservoir has the lots of the batch that it is of.
void Station::take_rest_of_last_batch(Batch& next) const {
  next.relied_on.lots = batch_.relied_on.lots;
  next.portions.push_back({counted_from(batch_.lots, -batch_.age), {}, {}, next.dry_salt});
}

CommandAnswer Station::obey_one(const NoteCommand& command, Instant /*now*/,
                                StationOutcome& outcome) {
  if (!batch_.in_progress())
    return answer(AnswerCode::NoBatch);
  const bool adds = command.salt.value() > 0.0 || command.water.value() > 0.0;
  const bool says = command.removed.value() > 0.0 || command.salt_total || !command.text.empty();
  if (!adds && !says)
    return answer(AnswerCode::NothingNoted);

  if (command.salt_total) {
    batch_.salt_noted = true;
    batch_.dry_salt -= batch_.salt * batch_.product.dry_fraction;
    correct_weighed(batch_, *command.salt_total);
    batch_.dry_salt += batch_.salt * batch_.product.dry_fraction;
  }
  if (command.removed.value() > 0.0 && salinity_.value)
    batch_.dry_salt -=
        Grams(command.removed.value() *
              salt_grams_per_litre(*salinity_.value, temperature_.value_or(room_temperature)));
  if (command.salt.value() > 0.0) {
    const SaltPortion& last = batch_.portions.back();
    SaltOfLot added{last.salt, last.product, command.salt};
    if (command.of)
      added = {counted_from(command.of->lot, batch_.age), command.of->product, command.salt};
    add_salt(batch_, added);
  }
  batch_.water_noted += command.water - command.removed;
  batch_.teaches &= command.removed.value() <= 0.0;
  if (batch_.unevaporated)
    *batch_.unevaporated -= command.removed;
  if (adds || command.removed.value() > 0.0)
    level_changed_on_purpose();
  outcome.events.push_back(BatchNoted{command});
  if (!adds && !command.salt_total)
    return answer(AnswerCode::Done);
  if (adds)
    batch_.hand_tests.clear();
  if (batch_.proof)
    void_proof(ProofVoid::SomethingAdded, outcome);
  batch_.circulated = Duration::zero();
  conclude_afresh();
  if (command.salt.value() > 0.0)
    dissolution_.restart();
  else if (command.water.value() > 0.0)
    dissolution_.dilute();
  if (batch_.salt_noted)
    batch_.phase = BatchPhase::Mixing;
  return answer(AnswerCode::Done);
}

CommandAnswer Station::obey_one(const HandTestCommand& command, Instant now,
                                StationOutcome& outcome) {
  if (!batch_.in_progress())
    return answer(AnswerCode::NoBatch);
  if (!salinity_.value || !(settling_.settled || batch_.proof))
    return answer(AnswerCode::StillDissolving);
  const HandTest test{command.content, batch_.proof ? batch_.proof->salinity : *salinity_.value,
                      now.wall, command.written};
  batch_.hand_tests[command.analyte] = test;
  outcome.events.push_back(HandTestEntered{command.analyte, test});
  return answer(AnswerCode::Done);
}

CommandAnswer Station::obey_one(const AbandonCommand&, Instant now, StationOutcome& outcome) {
  if (!batch_.in_progress())
    return answer(AnswerCode::NoBatch);
  if (change_)
    end_change(ChangeEnd::Stopped, now.mono, outcome);
  outcome.events.push_back(BatchEnded{batch_, BatchEnd::Abandoned});
  batch_.phase = BatchPhase::Empty;
  batch_.proof.reset();
  batch_.waivers.clear();
  return answer(AnswerCode::Done);
}

CommandAnswer Station::obey_one(const ChangeCommand& command, Instant now, StationOutcome&) {
  if (!spec_->pump)
    return answer(AnswerCode::NoPump);
  const PumpSpec& pump = *spec_->pump;
  if (pump.permit == PermitMode::WhileProven)
    return answer(AnswerCode::PermittedWhileProven);
  if (change_ || gate_.permit())
    return answer(AnswerCode::ChangeRunning);
  if (!(command.volume > Litres(0.0)))
    return answer(AnswerCode::VolumeNotPositive);
  CommandAnswer refused;
  if (command.volume > pump.max_volume) {
    refused.code = AnswerCode::VolumeAboveMaximum;
    refused.limit = pump.max_volume;
    return refused;
  }
  if (!every_check_met()) {
    std::copy_if(checks_.begin(), checks_.end(), std::back_inserter(refused.unmet),
                 [](const CheckResult& check) { return !lets_through(check); });
    return refused;
  }
  // Before old water is taken out, what is to replace it must surely be there (S19).
  const Litres there = spec_->drain ? surely_above_low()
                       : volume_    ? *volume_ - spec_->low_level
                                    : command.volume;
  if (there < command.volume) {
    refused.code = AnswerCode::VolumeNotThere;
    refused.limit = there;
    return refused;
  }
  if (!gate_.ready(dwell(), now.mono)) {
    refused.code = AnswerCode::DwellNotOver;
    refused.wait = gate_.dwell_left(dwell(), now.mono).value_or(dwell());
    return refused;
  }
  change_ = WaterChange{command.volume, "", std::nullopt, std::nullopt};
  if (spec_->hold_off)
    hold_off_.begin(now.mono);
  CommandAnswer accepted = answer(AnswerCode::Done);
  accepted.change = change_;
  return accepted;
}

CommandAnswer Station::obey_one(const StopCommand&, Instant now, StationOutcome& outcome) {
  if (!change_)
    return answer(AnswerCode::NoChangeRunning);
  end_change(ChangeEnd::Stopped, now.mono, outcome);
  return answer(AnswerCode::Done);
}

CommandAnswer Station::obey_one(const AcknowledgeCommand& command, Instant now, StationOutcome&) {
  const bool known = alarms_.acknowledge(command.alarm, now.mono);
  if (known && (command.alarm == AlarmId::LevelFallingWhileShut ||
                command.alarm == AlarmId::FlowsOnAfterStop))
    level_changed_on_purpose();
  return answer(known ? AnswerCode::Done : AnswerCode::NothingToAcknowledge);
}

// S7 and common sense: a calibration changes what every reading meant, so a proof made with the old
// one does not hold.
CommandAnswer Station::obey_one(const CalibrateCommand& command, Instant now,
                                StationOutcome& outcome) {
  const auto uncorrected = judges_[command.probe].uncorrected(now.mono);
  if (!uncorrected)
    return answer(AnswerCode::ProbeNotGood);
  const auto calibration =
      one_point_calibration(spec_->probes[command.probe], *uncorrected, command.standard, now.wall);
  if (!calibration) {
    CommandAnswer refused = answer(AnswerCode::CalibrationImplausible);
    refused.detail = calibration.error().message;
    return refused;
  }
  const Calibration before = std::exchange(calibrations_[command.probe], *calibration);
  const Measures measures = spec_->probes[command.probe].measures;
  if (measures == Measures::Level)
    level_changed_on_purpose();
  if (batch_.proof)
    void_proof(ProofVoid::Recalibrated, outcome);
  batch_.circulated = Duration::zero();  // the probe has hung in a standard, not in the batch
  start_course_afresh();
  outcome.events.push_back(ProbeCalibrated{command.probe, *calibration, before});
  return answer(AnswerCode::Done);
}

// S22. A probe in air or on a wrong map has no good reading: what arrives is compared as it is.
CommandAnswer Station::obey_one(const VerifyCommand& command, Instant now,
                                StationOutcome& outcome) {
  const ProbeSpec& probe = spec_->probes[command.probe];
  const auto arrived = judges_[command.probe].arrived(now.mono);
  if (!arrived)
    return answer(AnswerCode::NothingArrives);
  Verification& verification = verifications_[command.probe];
  Comparison compared{
      command.probe, probe.measures, {command.shown, arrived->uncorrected, now.wall}, arrived->raw};
  compared.agrees = take_point(probe, compared.point, verification);
  compared.verified = is_verified(probe, verification);
  compared.least_distance = least_distance(probe.measures, command.shown);
  outcome.events.push_back(ProbeCompared{compared});
  CommandAnswer given = answer(compared.agrees ? AnswerCode::Done : AnswerCode::DisplayDisagrees);
  given.compared = compared;
  return given;
}

}  // namespace brinegate
