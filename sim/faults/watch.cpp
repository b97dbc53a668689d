// SPDX-License-Identifier: Apache-2.0
#include "sim/faults/watch.h"

#include <algorithm>
#include <cmath>
#include <utility>
#include <variant>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "rules/profile.h"
#include "sim/faults/virtual_site.h"

namespace brinegate::sim {
namespace {

using namespace std::chrono_literals;
using nlohmann::json;

constexpr std::size_t short_story = 40;

std::string clock_text(Duration elapsed) {
  const auto whole = std::chrono::duration_cast<std::chrono::seconds>(elapsed).count();
  return fmt::format("day {:>2} {:02}:{:02}:{:02}", whole / 86400, whole / 3600 % 24,
                     whole / 60 % 60, whole % 60);
}

}  // namespace

void Watch::tell(std::string what, MonoTime now) {
  story_.push_back(fmt::format("{}  {}", clock_text(now - began()), what));
  if (!story_is_whole_ && story_.size() > short_story)
    story_.pop_front();
}

// A life is judged once by each invariant.
void Watch::check(Invariant invariant, bool holds, const std::string& what, MonoTime now) {
  count(invariant);
  if (holds || !violated_.insert(invariant).second)
    return;
  tell(fmt::format("VIOLATED: {}: {}", word(invariant), what), now);
  ++tally_.violated[static_cast<std::size_t>(invariant)];
  tally_.violations.push_back(
      {invariant, plan_.seed, now - began(), what, {story_.begin(), story_.end()}});
}

void Watch::started(Instant now) {
  started_ = now.mono;
  ++tally_.restarts;
  tell("the daemon starts", now.mono);
  hold_against_record(now.mono);
  state_to_be_compared_ = true;
  batch_ended_since_start_ = false;
  state_.clear();
  phase_.clear();
  replied_.clear();
  refused_.clear();
  under_way_.clear();
  unpermitted_since_.reset();
  level_reference_.reset();
  check_shut_at_.reset();
  changes_accepted_ = permits_asked_ = 0;
}

void Watch::ended(const ProcessEnd& end, Instant now) {
  const bool killed = end.killed;
  tell(killed ? "killed" : "stopped", now.mono);
  if (end.at == KillPoint::Acted)
    reach(Mark::KilledBetweenActAndRecord);
  tally_.kills += killed ? 1U : 0U;
  if (end.torn)
    reach(*end.torn ? Mark::TornAppendWhole : Mark::TornAppendAbsent);
  for (const auto& [ticket, append] : under_way_)
    for (const daemon::StoredState& state : append.states)
      perhaps_[{state.table, state.key}] = state.body;
  if (killed && on_until_)
    reach(Mark::KilledWhileOpen);
  const bool waits = !latest_permit_.empty() && !used_permits_.contains(latest_permit_);
  if (killed && waits)
    reach(daemon_->disk().has_permit(latest_permit_) ? Mark::KilledWithPermitOnRecord
                                                     : Mark::KilledBeforePermitOnRecord);
  restarted_during_change_ = on_until_.has_value();
  latest_permit_.clear();
  started_.reset();
  if (on_until_)
    off_at_ = now.mono;
  on_until_.reset();
  on_since_.reset();
}

void Watch::record_replaced() {
  acknowledged_.clear();
  perhaps_.clear();
  acknowledged_entries_ = 0;
  used_permits_.clear();
}

// Everything that was acknowledged is there, or what was written over it and not acknowledged.
void Watch::hold_against_record(MonoTime now) {
  const auto found = daemon_->disk().open();
  std::map<std::pair<std::string, std::string>, const std::string*> bodies;
  for (const daemon::StoredState& state : *found)
    bodies[{state.table, state.key}] = &state.body;
  for (const auto& [key, body] : acknowledged_) {
    const auto here = bodies.find(key);
    const auto other = perhaps_.find(key);
    const std::string found_body = here == bodies.end() ? "" : *here->second;
    const bool right =
        found_body == body || (other != perhaps_.end() && found_body == other->second);
    check(Invariant::RecordFound, right, fmt::format("{} {}", key.first, key.second), now);
  }
  check(Invariant::RecordFound, daemon_->disk().entries() >= acknowledged_entries_,
        fmt::format("{} entries of {} acknowledged", daemon_->disk().entries(),
                    acknowledged_entries_),
        now);
  acknowledged_.clear();
  for (const auto& [key, body] : bodies)
    acknowledged_[key] = *body;
  restored_answers_.clear();
  for (const auto& [key, body] : bodies)
    if (key.first == "request")
      restored_answers_[key.second.substr(key.second.find('/') + 1)] = *body;
  acknowledged_entries_ = daemon_->disk().entries();
  perhaps_.clear();
}

void Watch::took(const daemon::Event& event, Instant now) {
  if (const auto* finished = std::get_if<daemon::AppendFinished>(&event))
    finish(*finished, now.mono);
}

void Watch::finish(const daemon::AppendFinished& finished, MonoTime now) {
  const auto found = under_way_.find(finished.ticket);
  if (found == under_way_.end())
    return;
  const daemon::Append append = std::move(found->second);
  under_way_.erase(found);
  if (!finished.ok) {
    refused_ = append.entries;
    return;
  }
  ++tally_.appends_acknowledged;
  acknowledged_entries_ += append.entries.size();
  for (const daemon::StoredState& state : append.states)
    acknowledged_[{state.table, state.key}] = state.body;
  check(Invariant::ActsOnce, daemon_->disk().twice().empty(),
        fmt::format("{} stands on the record twice", daemon_->disk().twice()), now);
}

void Watch::wanted(const daemon::Effect& effect, Instant now) {
  if (const auto* drive = std::get_if<daemon::DriveOutput>(&effect))
    take_drive(*drive, now.mono);
  else if (const auto* append = std::get_if<daemon::Append>(&effect))
    take_append(*append, now.mono);
  else if (const auto* reply = std::get_if<daemon::Reply>(&effect))
    take_reply(*reply, now);
  else if (const auto* said = std::get_if<daemon::Publish>(&effect);
           said && said->topic.ends_with("/state"))
    take_state(said->payload);
}

void Watch::take_state(const std::string& payload) {
  constexpr std::string_view before = "\"phase\":\"";
  state_ = payload;
  const std::size_t from = payload.find(before) + before.size();
  phase_ = payload.substr(from, payload.find('"', from) - from);
}

void Watch::take_drive(const daemon::DriveOutput& drive, MonoTime now) {
  if (drive.output.role != drivers::OutputRole::Pump)
    return;
  const PumpSpec& pump = *daemon_->configured().spec.pump;
  if (drive.on_until && !on_until_) {
    tell("the gate opens", now);
    ++tally_.opens;
    on_since_ = now;
    const bool permitted = !latest_permit_.empty() && daemon_->disk().has_permit(latest_permit_) &&
                           used_permits_.insert(latest_permit_).second;
    check(Invariant::PermitOnDisk, permitted,
          fmt::format("opens with the permit \"{}\"", latest_permit_), now);
    check(Invariant::Dwell, started_ && now - *started_ >= pump.dwell, "opens after a start", now);
    check(Invariant::Dwell, !check_shut_at_ || now - *check_shut_at_ >= pump.dwell,
          "opens after a check had shut it", now);
  }
  if (!drive.on_until && on_until_) {
    tell("the gate shuts", now);
    off_at_ = now;
    on_since_.reset();
  }
  on_until_ = drive.on_until;
  if (on_until_)
    last_on_until_ = *on_until_ + std::chrono::nanoseconds(0);
  if (on_until_)
    check(Invariant::Lease, *on_until_ <= now + pump.lease, "asks for more than a lease", now);
}

void Watch::take_append(const daemon::Append& append, MonoTime now) {
  if (!refused_.empty()) {
    const bool again = append.entries.size() >= refused_.size() &&
                       std::equal(refused_.begin(), refused_.end(), append.entries.begin(),
                                  [](const auto& a, const auto& b) {
                                    return a.kind == b.kind && a.at == b.at && a.body == b.body;
                                  });
    check(Invariant::RecordTold, again, "an entry that the disk refused is not offered again", now);
    reach(Mark::RefusedEntriesWritten);
    refused_.clear();
  }
  for (const daemon::RecordEntry& entry : append.entries)
    take_entry(entry, now);
  under_way_[append.ticket] = append;
}

void Watch::take_entry(const daemon::RecordEntry& entry, MonoTime now) {
  if (entry.kind == "permit") {
    latest_permit_ = permit_of(entry);
    ++permits_asked_;
    const bool per_change = plan_.station.permit == PermitMode::PerChange;
    check(Invariant::ActsOnce,
          !per_change || permits_asked_ <= changes_accepted_ + changes_open_.size(),
          "more permits than changes that were accepted", now);
  } else if (entry.kind == "shut") {
    take_shut(entry.body, now);
  } else if (entry.kind == "change-ended") {
    take_change_end(entry.body);
  } else if (entry.kind == "alarm") {
    take_alarm(entry.body);
  } else if (entry.kind == "proven") {
    ++tally_.proofs;
  } else if (entry.kind == "batch-begun") {
    ++tally_.batches;
  } else if (entry.kind == "batch-ended") {
    batch_ended_since_start_ = true;
  } else if (entry.kind == "rejected") {
    reach(Mark::BatchRejected);
  } else if (entry.kind == "proof-lost") {
    const std::string reason = json::parse(entry.body).value("reason", "");
    const bool edited = reason.find("edited") != std::string::npos;
    reach(edited ? Mark::EditVoidedProof : Mark::ProofLostByWater);
  }
  static const std::set<std::string> told{"alarm", "change-ended", "proof-lost", "rejected",
                                          "shut"};
  tell("record: " + entry.kind + (told.contains(entry.kind) ? " " + entry.body.substr(0, 400) : ""),
       now);
}

void Watch::take_shut(const std::string& body, MonoTime /*now*/) {
  const json shut = json::parse(body);
  if (!shut.at("first_out").is_object())
    return;
  check_shut_at_ = off_at_;
  const std::string check = shut.at("first_out").value("id", "");
  if (check == "probes-good")
    reach(Mark::ProbeLostWhileOpen);
  else if (check == "cells-agree" || check == "on-target")
    reach(Mark::SalinityShut);
  else if (check == "no-leak")
    reach(Mark::LeakShut);
}

void Watch::take_change_end(const std::string& body) {
  const std::string end = json::parse(body).value("end", "");
  if (end == "volume reached" || plan_.station.permit == PermitMode::WhileProven)
    ++tally_.changes_completed;
  else if (end == "no flow")
    reach(Mark::NoFlowEndedChange);
  else if (end == "stopped")
    reach(Mark::StopCommandEndedChange);
  else if (end == "interrupted" && restarted_during_change_)
    reach(Mark::RestartDuringChange);
}

void Watch::take_alarm(const std::string& body) {
  const json alarm = json::parse(body);
  if (alarm.value("id", "") == "level-falling-while-shut")
    level_reference_.reset();  // acknowledged, it counts from the level then
  if (alarm.value("state", "") != "unacknowledged" &&
      alarm.value("state", "") != "returned unacknowledged")
    return;
  const std::string id = alarm.value("id", "");
  if (id == "run-limit-passed")
    reach(Mark::RunLimitSeen);
  else if (id == "change-interrupted")
    reach(Mark::ChangeInterruptedTold);
  else if (id == "pump-not-running-while-open")
    reach(Mark::PumpNotRunningSeen);
}

void Watch::asked(daemon::ReplyAddress address, AskedRequest request) {
  if (request.asks_change) {
    ++tally_.changes_asked;
    if (!replied_.contains(request.id))
      changes_open_.insert(request.id);
  }
  asked_[address] = std::move(request);
}

// S13 and the promise that a repeated id repeats the answer, not the act.
void Watch::take_reply(const daemon::Reply& reply, Instant now) {
  const auto found = asked_.find(reply.to);
  if (found == asked_.end())
    return;
  const AskedRequest request = std::move(found->second);
  asked_.erase(found);
  if (request.expected == Expected::Refusal) {
    const bool ok = reply.payload.find("\"ok\":true") != std::string::npos;
    check(Invariant::Refused, !ok, reply.payload.substr(0, 200), now.mono);
    reach(request.refusal);
    return;
  }
  if (request.acts)
    hold_to_first_answer(request, reply, now.mono);
  if (!request.id.empty())
    answered_(request.id, reply.payload, now);
}

// The first answer, as this process gave it or as the disk has it, is the only one; but that
// something was not written yet may be said before.
void Watch::hold_to_first_answer(const AskedRequest& request, const daemon::Reply& reply,
                                 MonoTime now) {
  const std::string& payload = reply.payload;
  if (request.id.empty() || payload.find("there is no need to ask again") != std::string::npos)
    return;
  const bool ok = payload.find("\"ok\":true") != std::string::npos;
  // What concerns a lot is answered and kept as no station's.
  const std::string stored =
      daemon_->disk().state("request", fmt::format("{}/{}", reply.station, request.id));
  check(Invariant::RecordFound, !ok || request.may_be_unwritten || !stored.empty(),
        fmt::format("{} was answered \"done\" and is not on the disk", request.id), now);
  const auto before = replied_.find(request.id);
  const bool restored = before == replied_.end() && restored_answers_.contains(request.id);
  if (before == replied_.end() && !restored) {
    replied_[request.id] = payload;
    changes_accepted_ += request.asks_change && ok ? 1U : 0U;
    changes_open_.erase(request.id);
    return;
  }
  const std::string first =
      restored ? json::parse(restored_answers_[request.id]).value("answer", "") : before->second;
  check(Invariant::ActsOnce, first == payload,
        fmt::format("{} was answered {} and now {}", request.id, first, payload), now);
  reach(restored ? Mark::RepeatedIdAnsweredAfterRestart : Mark::RepeatedIdAnswered);
  changes_open_.erase(request.id);
}

bool Watch::alarm_stands(std::string_view alarm) const {
  return state_.find(fmt::format("\"id\":\"{}\"", alarm)) != std::string::npos;
}

void Watch::recovered(bool within, Duration took, Instant now) {
  check(Invariant::Recovers, within,
        fmt::format("no proven batch and completed change within {:.0f} h; {}",
                    seconds(took) / 3600.0, state_.substr(0, 400)),
        now.mono);
  if (!within)
    return;
  ++tally_.recovered;
  tally_.slowest_recovery_s = std::max(tally_.slowest_recovery_s, seconds(took));
}

}  // namespace brinegate::sim
