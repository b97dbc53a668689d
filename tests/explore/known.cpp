// SPDX-License-Identifier: Apache-2.0
#include "tests/explore/known.h"

#include <algorithm>
#include <variant>

#include "tests/explore/exploration.h"

namespace brinegate::explore {
namespace {

template <class EventType>
const EventType* find(const StationOutcome& outcome) {
  for (const StationEvent& event : outcome.events)
    if (const auto* found = std::get_if<EventType>(&event))
      return found;
  return nullptr;
}

int count_on(int ticks, bool more, int most) {
  return more ? std::min(ticks + 1, most) : 0;
}

bool restarts(const Letter& letter) {
  return letter.happens == Happens::Restart || letter.happens == Happens::RestartWithoutProfile;
}

}  // namespace

void Known::take(const Letter& letter, PermitMode permit, bool was_open) {
  if (restarts(letter)) {
    const bool has_profile = letter.happens == Happens::Restart;
    proven_ &= has_profile == relies_on_profile_;  // S15
    relies_on_profile_ = has_profile;
    change_ = false;
    contrary_ = -1;
    shut_ = fit_ = met_ = higher_ = waived_ = 0;
    watches_level_ = false;
    asked_permit_.clear();
    cell_age_ = cell_deadline + 1;
  }
  if (letter.asks == Asks::Acknowledge && letter.happens != Happens::Ending) {
    running_while_shut_.acknowledged = standing_while_open_.acknowledged = true;
    lost_water_ = false;
  }
  const bool late = letter.happens == Happens::LongPause;
  waived_ = late ? 0 : std::max(waived_ - 1, 0);
  old_ |= late && batch_;
  cell_age_ = letter.cell == Shows::Right ? 0
              : late                      ? cell_deadline + 1
                                          : std::min(cell_age_ + 1, cell_deadline + 1);
  take_readback(letter, permit, was_open);
  take_level(letter, was_open);
}

void Known::take_readback(const Letter& letter, PermitMode permit, bool was_open) {
  if (!was_open)
    open_ = 0;
  if (was_open != (shut_ == 0) || restarts(letter))
    contrary_ = -1;  // it was told something else since
  shut_ = count_on(shut_, !was_open, 2 * readback_within + 1);
  const bool may_stand = was_open && permit == PermitMode::WhileProven;
  const bool seen = letter.readback != Readback::Nothing;
  const bool runs =
      letter.readback == Readback::Follows ? was_open : letter.readback == Readback::On;
  const bool contrary = seen && runs != was_open && !may_stand;
  const int passed = letter.happens == Happens::LongPause ? readback_within : 1;
  if (contrary || !seen)
    contrary_ = contrary_ >= 0 ? std::min(contrary_ + passed, readback_within) : contrary ? 0 : -1;
  else
    contrary_ = -1;
  const bool too_long = contrary && contrary_ >= readback_within;
  running_while_shut_.set(too_long && !was_open);
  standing_while_open_.set(too_long && was_open);
}

void Known::take_level(const Letter& letter, bool was_open) {
  const double before = litres;
  if (letter.level == LevelShows::Falls)
    litres = std::max(low_litres, litres - step_litres);
  if (letter.level == LevelShows::Rises)
    litres = std::min(full_litres, litres + step_litres);
  const bool on_purpose = letter.asks == Asks::Begin || letter.asks == Asks::Note ||
                          letter.asks == Asks::Abandon || letter.asks == Asks::Acknowledge;
  if (was_open || letter.level == LevelShows::Nothing || on_purpose)
    return;
  lost_water_ |= watches_level_ && litres < before;
}

// A level is watched once the gate was shut for long enough, where salt water must stay.
void Known::watch_level(const Letter& letter, const Station& station) {
  const Batch& batch = station.batch();
  const bool salty = batch.in_progress() && batch.phase != BatchPhase::Filling;
  watches_level_ = salty && shut_ > 2 * readback_within && letter.level != LevelShows::Nothing;
}

// What people asked for and the station accepted.
void Known::take_answers(const Letter& letter, const StationOutcome& outcome) {
  if (outcome.answers.empty() || !outcome.answers.front().ok())
    return;
  switch (letter.asks) {
    case Asks::Change:
      change_ = true;
      break;
    case Asks::Stop:
      change_ = false;
      break;
    case Asks::Begin:
      batch_ = true;
      old_ = false;
      relies_on_profile_ = true;
      lost_water_ = false;
      proven_ = false;
      moved_ = fit_ = waived_ = 0;
      break;
    case Asks::Note:
      proven_ = false;
      moved_ = fit_ = 0;
      break;
    case Asks::Abandon:
      batch_ = proven_ = change_ = lost_water_ = false;
      waived_ = 0;
      break;
    case Asks::Waive:
      waived_ = waived_for;
      break;
    case Asks::Unwaive:
      waived_ = 0;
      break;
    case Asks::Nothing:
    case Asks::Acknowledge:
      break;
  }
}

void Known::take_events(const StationOutcome& outcome) {
  if (find<ChangeEnded>(outcome) != nullptr)
    change_ = false;
  if (const auto* lost = find<ProofLost>(outcome)) {
    proven_ = false;
    if (lost->reason != ProofVoid::SomethingAdded)
      moved_ = 0;
  }
  if (const auto* asked = find<PermitAsked>(outcome))
    asked_permit_ = asked->permit.id;
  if (find<PermitWithdrawn>(outcome) != nullptr)
    asked_permit_.clear();
}

// What an open gate asks for is not there.
std::string Known::missing(const Letter& letter) const {
  const bool contacts_right = letter.circulation != Contact::Nothing &&
                              letter.leak == Contact::Off && letter.tank_high == Contact::Off &&
                              letter.flow != FlowShows::Nothing;
  return !letter.record_kept                                           ? "a record"
         : !letter.output_answers                                      ? "an output that answers"
         : cell_age_ > cell_deadline                                   ? "a right salinity"
         : letter.cell == Shows::Simulated                             ? "a real cell"
         : !temperature_passes(letter)                                 ? "a right temperature"
         : letter.level == LevelShows::Nothing || litres <= low_litres ? "enough water"
         : letter.readback == Readback::Nothing                        ? "a read-back"
         : !contacts_right                                             ? "a contact"
         : !running_while_shut_.is_normal()  ? "a pump that stands when it is told to"
         : !standing_while_open_.is_normal() ? "a pump that runs when it is told to"
         : lost_water_                       ? "an answer to where the water went"
         : !batch_ || !proven_               ? "a proof"
         : old_                              ? "youth"
                                             : "";
}

std::string Known::judge(const Letter& letter, const Station& station,
                         const StationOutcome& outcome) {
  const bool was_open = shut_ == 0;
  const bool is_open = station.gate().state() == GateState::Open;
  take_answers(letter, outcome);
  const bool moves = letter.circulation == Contact::On;
  const int passed = letter.happens == Happens::LongPause ? circulate : 1;
  if (batch_ && moves)
    moved_ = std::min(moved_ + passed, circulate);
  take_events(outcome);
  const bool fit = batch_ && cell_age_ <= cell_deadline && temperature_passes(letter) &&
                   letter.course == Course::Settled && moved_ >= circulate;
  fit_ = count_on(fit_, fit, dwell + 1);
  if (find<BatchProven>(outcome) != nullptr) {
    if (fit_ <= dwell && letter.happens != Happens::LongPause)
      return "proven before it was fit for the dwell";
    proven_ = true;
    lowest_ = litres;
    higher_ = 0;
  }
  if (const auto* ended = find<BatchEnded>(outcome); ended && ended->end == BatchEnd::Used) {
    batch_ = proven_ = false;
    waived_ = 0;
  }
  lowest_ = letter.level == LevelShows::Nothing ? lowest_ : std::min(lowest_, litres);
  const bool higher = proven_ && letter.level != LevelShows::Nothing && litres > lowest_;
  higher_ = count_on(higher_, higher, dwell + 1);
  proven_ &= higher_ <= dwell;  // S16
  watch_level(letter, station);

  const std::string lacks = missing(letter);
  met_ = count_on(met_, lacks.empty(), dwell + 1);
  if (letter.happens == Happens::LongPause && met_ > 1)
    met_ = dwell + 1;
  if (is_open && !lacks.empty())
    return "open without " + lacks;
  if (is_open && !was_open && met_ <= dwell)
    return "opened before the dwell was over";
  open_ = count_on(open_, is_open, longest_run + 1);
  std::string violated = judge_open(letter, station);
  if (violated.empty())
    violated = judge_record(letter, station, outcome);
  if (!is_open && was_open)
    asked_permit_.clear();
  return violated;
}

std::string Known::judge_open(const Letter& letter, const Station& station) const {
  const bool was_open = shut_ == 0;
  const bool is_open = station.gate().state() == GateState::Open;
  const bool per_change = station.spec().pump->permit == PermitMode::PerChange;
  if (is_open && letter.happens == Happens::Ending)
    return "open while it ends";
  if (is_open && per_change && !change_)
    return "open for no change";
  if (is_open && per_change && open_ > longest_run)
    return "open for longer than a change may run";
  if (was_open && !is_open && per_change && station.change())
    return "a change goes on behind a shut gate";
  if (is_open)
    for (const CheckResult& check : station.checks())
      if (!passes(check))
        return "open against " + std::string(check_row(check.id).name);
  return "";
}

// What is told agrees with what is done.
std::string Known::judge_record(const Letter& letter, const Station& station,
                                const StationOutcome& outcome) const {
  const bool was_open = shut_ == 0;
  const bool is_open = station.gate().state() == GateState::Open;
  if (outcome.pump_on != is_open)
    return "the pump is told something else than the gate";
  const bool cutoff = letter.happens != Happens::Ending && running_while_shut_.is_normal() &&
                      standing_while_open_.is_normal();
  if (outcome.second_cutoff_on != cutoff)
    return "the second cut-off does not follow the read-back";
  const auto* opened = find<GateOpened>(outcome);
  const auto* shut = find<GateShut>(outcome);
  if ((opened != nullptr) != (!was_open && is_open) || (shut != nullptr) != (was_open && !is_open))
    return "an opening or shutting is not told, or told for nothing";
  if (opened && (opened->permit.id != asked_permit_ || letter.on_record != OnRecord::Current))
    return "opened without its permit on record";
  if (!shut)
    return "";
  std::size_t unmet = 0;
  for (const CheckResult& check : station.checks())
    unmet += passes(check) ? 0U : 1U;
  if (shut->first_out.has_value() != (unmet > 0))
    return "shut without its first-out, or with one that is none";
  if (shut->first_out && passes(*shut->first_out))
    return "the first-out is a check that is met";
  return shut->permit == asked_permit_ ? "" : "the shut names another permit";
}

// Only what makes a difference to what may come.
void Known::put_into(std::string& key) const {
  const bool unproven = batch_ && !proven_;
  for (const int count : {cell_age_, contrary_, shut_, open_, unproven ? moved_ : 0,
                          unproven ? fit_ : 0, met_, proven_ ? higher_ : 0, waived_})
    put(key, count);
  put(key, static_cast<int>(litres));
  put(key, proven_ ? static_cast<int>(lowest_) : -1);
  int flags = 0;
  for (const bool flag : {batch_, proven_, batch_ && old_, batch_ && relies_on_profile_, change_,
                          lost_water_, watches_level_, !asked_permit_.empty(),
                          running_while_shut_.present, running_while_shut_.acknowledged,
                          standing_while_open_.present, standing_while_open_.acknowledged})
    flags = 2 * flags + (flag ? 1 : 0);
  put(key, flags);
}

}  // namespace brinegate::explore
