// SPDX-License-Identifier: Apache-2.0
// What a proof rests on: the configuration it was made with (S15), and water that is still what and
// where it was (S16).
#include <algorithm>
#include <cmath>
#include <utility>

#include "rules/station.h"

namespace brinegate {
namespace {

using namespace std::chrono_literals;

// The level comes to rest after drawing: hoses run empty, waves settle (common practice, no
// source).
constexpr Duration level_rests_after = 1min;
// Less than this share of the capacity is a level probe's own wavering (common practice, no
// source).
constexpr double noticeable_share = 0.01;
// Of what the proof left to the upper limit, this share at most may be used up by evaporation: the
// rest is for the proof's own uncertainty (common practice, no source).
constexpr double evaporation_share = 0.5;
// A course that begins anew, as after a restart, has become sure by then or never will (common
// practice, no source).
constexpr Duration doubt_lasts = 1h;
// A step of the salinity stands, a bubble leaves again (common practice, no source).
constexpr Duration step_stands = 3s;

// Whose numbers a proof is made of; other contacts only shut the gate.
bool proof_relies_on(const ProbeSpec& probe) {
  return probe.measures <= Measures::Level || probe.measures == Measures::Circulation;
}

// Not only what is known of it.
bool changes_water(ProofVoid reason) {
  switch (reason) {
    case ProofVoid::SomethingAdded:
    case ProofVoid::LevelRose:
    case ProofVoid::SalinityMoved:
    case ProofVoid::StoodStill:
    case ProofVoid::Evaporated:
      return true;
    case ProofVoid::None:
    case ProofVoid::RiskGrew:
    case ProofVoid::Recalibrated:
    case ProofVoid::ProfileEdited:
    case ProofVoid::ProbeEdited:
    case ProofVoid::LotEdited:
      break;
  }
  return false;
}

}  // namespace

ReliedOn Station::relied_on(const std::optional<Profile>& configured) const {
  ReliedOn relied;
  relied.profile = configured;
  for (const ProbeSpec& probe : spec_->probes)
    if (proof_relies_on(probe))
      relied.map_entries.emplace(probe.name, probe.map_entry);
  return relied;
}

// The batch is still judged by the profile it began with; only its proof is void.
void Station::hold_against_configuration(const std::optional<Profile>& configured) {
  if (!batch_.in_progress())
    return;
  ReliedOn now = relied_on(configured);
  now.lots = batch_.relied_on.lots;
  if (now.map_entries != batch_.relied_on.map_entries) {
    edited_ = ProofVoid::ProbeEdited;
    batch_.circulated = Duration::zero();  // perhaps as an edited contact saw it
  } else if (now.profile != batch_.relied_on.profile) {
    edited_ = ProofVoid::ProfileEdited;
  }
  batch_.relied_on = std::move(now);
}

// A batch keeps the version it was made with. Only a lot of which nothing was on record when its
// salt was added is completed.
void Station::take_lots(const std::vector<BatchSalt>& recorded) {
  for (const BatchSalt& lot : recorded) {
    const LotPart& latest = lot.parts.front();
    const auto known = batch_.relied_on.lots.find(latest.lot);
    if (known == batch_.relied_on.lots.end() || known->second == latest.version)
      continue;
    known->second = latest.version;
    if (batch_.in_progress() && !edited_)
      edited_ = ProofVoid::LotEdited;
    for (SaltPortion& portion : batch_.portions) {
      auto& parts = portion.salt.parts;
      if (parts.size() != 1 || parts[0].lot != latest.lot || parts[0].version != 0)
        continue;
      portion.salt = counted_from(lot, batch_.age);
    }
    remix(batch_);
  }
}

// Salt that dissolves or is added unsaid makes other water than was tested.
void Station::drop_hand_tests_of_other_water() {
  const auto& now = settling_.final_salinity;
  if (batch_.is_proven() || !settling_.known || !now)
    return;
  const double allowed = proven_allowance * batch_.profile.still_to_dissolve.value();
  std::erase_if(batch_.hand_tests, [&](const auto& test) {
    return std::abs((now->value - test.second.salinity).value()) > allowed;
  });
}

void Station::restore_calibration(std::size_t probe, const Calibration& calibration) {
  if (calibration.map_entry == spec_->probes[probe].map_entry)
    calibrations_[probe] = calibration;
  else
    restored_.emplace_back(MapEntryEdited{probe, true});
}

void Station::restore_verification(std::size_t probe, const Verification& verification) {
  if (verification.map_entry == spec_->probes[probe].map_entry)
    verifications_[probe] = verification;
  else if (!verification.points.empty())
    restored_.emplace_back(MapEntryEdited{probe, false});
}

void Station::void_proof(ProofVoid reason, StationOutcome& outcome) {
  batch_.proof.reset();
  batch_.voided = reason;
  if (changes_water(reason))
    batch_.hand_tests.clear();
  batch_.phase = BatchPhase::Mixing;
  moved_since_.reset();
  rose_since_.reset();
  evaporated_since_.reset();
  doubted_since_.reset();
  batch_.lowest_volume.reset();
  if (reason == ProofVoid::LotEdited) {  // the water is as it was, only not what was said of it
    conclude_afresh();
  } else {
    batch_.circulated = Duration::zero();
    if (reason != ProofVoid::SomethingAdded)
      start_course_afresh();
  }
  outcome.events.push_back(ProofLost{reason});
}

// S16: the water is no longer the water that was proven. What is out of tolerance shuts the gate by
// its own check in the same round; this takes the proof away when it lasts.
std::optional<ProofVoid> Station::water_changed(MonoTime now) {
  const double allowed = proven_allowance * batch_.profile.still_to_dissolve.value();
  const bool moved =
      salinity_.value && std::abs((*salinity_.value - batch_.proof->salinity).value()) > allowed;
  if (!moved)
    moved_since_.reset();
  else if (!moved_since_)
    moved_since_ = now;

  if (volume_)
    batch_.lowest_volume = std::min(*volume_, batch_.lowest_volume.value_or(*volume_));
  const Litres noticeable =
      std::max(spec_->pump ? spec_->pump->unasked_loss : Litres(2.0), spec_->capacity * 0.01);
  const bool rose = volume_ && *volume_ > *batch_.lowest_volume + noticeable;
  if (!rose)
    rose_since_.reset();
  else if (!rose_since_)
    rose_since_ = now;

  measure_evaporation(now);
  if (!evaporated_too_much())
    evaporated_since_.reset();
  else if (!evaporated_since_)
    evaporated_since_ = now;

  if (has(Measures::Circulation) && batch_.standing > batch_.profile.standing)
    return ProofVoid::StoodStill;
  if (moved_since_ && now - *moved_since_ >= dwell())
    return ProofVoid::SalinityMoved;
  if (doubted_since_ && now - *doubted_since_ >= doubt_lasts)
    return ProofVoid::RiskGrew;
  if (rose_since_ && now - *rose_since_ >= dwell())
    return ProofVoid::LevelRose;
  if (evaporated_since_ && now - *evaporated_since_ >= dwell())
    return ProofVoid::Evaporated;
  return std::nullopt;
}

// The risk of proven water grows with the age of its calibration and with what evaporates. Shut, it
// waits to be trusted again; what stays in doubt is judged afresh, so that a person learns what to
// do.
void Station::doubt_proof(MonoTime now) {
  const CheckResult& target = checks_[static_cast<std::size_t>(CheckId::OnTarget)];
  const bool doubted =
      batch_.proof && settling_.settled && target.risk && *target.risk > *target.risk_accepted;
  if (!doubted)
    doubted_since_.reset();
  else if (!doubted_since_)
    doubted_since_ = now;
}

// Nothing is lost to the air while water is drawn: what was lost before is carried over.
void Station::measure_evaporation(MonoTime now) {
  if ((change_ && change_->run) || run_while_proven_ || interrupted_)
    drawn_at_ = now;
  const bool at_rest = !drawn_at_ || now - *drawn_at_ >= level_rests_after;
  if (!at_rest)
    batch_.unevaporated.reset();
  if (!at_rest || !volume_)
    return;
  if (!batch_.unevaporated)
    batch_.unevaporated = *volume_ + batch_.evaporated;
  batch_.evaporated = *batch_.unevaporated - *volume_;
}

// Salt stays behind: of a share of the volume that went, the salinity has risen by that share.
bool Station::evaporated_too_much() const {
  if (!volume_ || !batch_.unevaporated)
    return false;
  const Profile& profile = batch_.profile;
  const PracticalSalinity left = profile.target + profile.tolerance - batch_.proof->salinity;
  const Litres allowed =
      *batch_.unevaporated * (evaporation_share * (left / batch_.proof->salinity));
  return batch_.evaporated > std::max(allowed, spec_->capacity * noticeable_share);
}

// Standing water settles into layers: a pause, and a step of the salinity, begin the wait afresh.
// A single odd reading is a bubble, not a step.
void Station::derive_evenness(MonoTime now) {
  const double step = proven_allowance * batch_.profile.still_to_dissolve.value();
  const bool moved = evenly_since_ && salinity_.value &&
                     std::abs((*salinity_.value - evenly_from_).value()) > step;
  if (!moved)
    away_since_.reset();
  else if (!away_since_)
    away_since_ = now;
  if (!is_circulating() || (away_since_ && now - *away_since_ >= step_stands)) {
    evenly_since_.reset();
    away_since_.reset();
  }
  if (is_circulating() && !evenly_since_ && salinity_.value) {
    evenly_since_ = now;
    evenly_from_ = *salinity_.value;
  }
}

}  // namespace brinegate
