// SPDX-License-Identifier: Apache-2.0
// Holds what the daemon does against the truth of the world, at every step. Knows none of the
// daemon's own judgement but what it says and wants done.
#pragma once

#include <cstdint>
#include <deque>
#include <functional>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "sim/faults/findings.h"
#include "sim/faults/plant.h"
#include "sim/faults/virtual_daemon.h"

namespace brinegate::sim {

// What a request must come to, whoever is asked.
enum class Expected { Anything, Refusal };

struct AskedRequest {
  std::string id;  // empty: none
  bool asks_change = false;
  bool acts = true;               // else it only asks
  bool may_be_unwritten = false;  // "done" is said at once
  Expected expected = Expected::Anything;
  Mark refusal = Mark::HostileRequestRefused;
};

// Of the world, over one step.
struct WorldStep {
  Duration dt{0};
  bool foreign_on = false;  // a second master has the coil on
  bool readback_arrives = false;
  bool level_arrives = false;  // and is honest
  bool water_moved_by_hand = false;
  bool claims_honest = false;  // (a defect of the world: a lying cell is called honest)
};

class Watch final : public VirtualDaemon::Observer {
 public:
  Watch(const LifePlan& plan, Tally& tally) : plan_(plan), tally_(tally) {}

  using Answered =
      std::function<void(const std::string& id, const std::string& payload, Instant now)>;
  void attach(VirtualDaemon& daemon, Answered answered) {
    daemon_ = &daemon;
    answered_ = std::move(answered);
  }

  void started(Instant now) override;
  void ended(const ProcessEnd& end, Instant now) override;
  void took(const daemon::Event& event, Instant now) override;
  void wanted(const daemon::Effect& effect, Instant now) override;

  // The truth, after the water and before the daemon's turn; and after that turn.
  void see(const Plant& plant, const WorldStep& step, Instant now);
  void see_turn(const Plant& plant, Instant now);
  void asked(daemon::ReplyAddress address, AskedRequest request);
  void record_replaced();
  void recovered(bool within, Duration took, Instant now);

  void reach(Mark mark) { ++tally_.reached[static_cast<std::size_t>(mark)]; }
  void tell(std::string what, MonoTime now);
  void tell_everything() { story_is_whole_ = true; }
  [[nodiscard]] const std::deque<std::string>& story() const { return story_; }

  // What the daemon last said and wants.
  [[nodiscard]] bool wants_on() const { return on_until_.has_value(); }
  [[nodiscard]] std::optional<MonoTime> on_until() const { return on_until_; }
  [[nodiscard]] const std::string& phase() const { return phase_; }
  // Completed by volume, or a run of "while proven"; in the whole life.
  [[nodiscard]] std::uint64_t changes_completed() const { return tally_.changes_completed; }
  [[nodiscard]] std::uint64_t proofs() const { return tally_.proofs; }

 private:
  void check(Invariant invariant, bool holds, const std::string& what, MonoTime now);
  void count(Invariant invariant) { ++tally_.checked[static_cast<std::size_t>(invariant)]; }
  void take_drive(const daemon::DriveOutput& drive, MonoTime now);
  void take_append(const daemon::Append& append, MonoTime now);
  void take_entry(const daemon::RecordEntry& entry, MonoTime now);
  void take_reply(const daemon::Reply& reply, Instant now);
  void hold_to_first_answer(const AskedRequest& request, const daemon::Reply& reply, MonoTime now);
  void take_shut(const std::string& body, MonoTime now);
  void take_change_end(const std::string& body);
  void take_alarm(const std::string& body);
  void take_state(const std::string& payload);
  void finish(const daemon::AppendFinished& finished, MonoTime now);
  void hold_against_record(MonoTime now);
  void check_water(const Plant& plant, const WorldStep& step, MonoTime now);
  void check_lease(const Plant& plant, const WorldStep& step, MonoTime now);
  void check_run(const Plant& plant, MonoTime now);
  void check_read_back(const Plant& plant, const WorldStep& step, MonoTime now);
  void check_level(const Plant& plant, const WorldStep& step, MonoTime now);
  [[nodiscard]] bool alarm_stands(std::string_view alarm) const;
  [[nodiscard]] MonoTime began() const { return MonoTime(std::chrono::hours(1)); }

  const LifePlan& plan_;
  Tally& tally_;
  VirtualDaemon* daemon_ = nullptr;
  Answered answered_;
  std::deque<std::string> story_;
  bool story_is_whole_ = false;
  std::set<Invariant> violated_;

  // The process.
  std::optional<MonoTime> started_;
  bool restarted_during_change_ = false;
  bool state_to_be_compared_ = false;
  bool batch_ended_since_start_ = false;
  bool restored_cleanly_ = true;
  std::string state_;  // as published
  std::string phase_;

  // The output.
  std::optional<MonoTime> on_until_;
  std::optional<MonoTime> last_on_until_;  // of the latest renewal, whoever lives
  std::optional<MonoTime> on_since_;
  MonoTime off_at_{};
  std::optional<MonoTime> check_shut_at_;
  std::set<std::string> used_permits_;
  std::string latest_permit_;

  // The record.
  std::map<std::uint64_t, daemon::Append> under_way_;
  std::map<std::pair<std::string, std::string>, std::string> acknowledged_;
  std::map<std::pair<std::string, std::string>, std::string> perhaps_;  // torn: either is right
  std::uint64_t acknowledged_entries_ = 0;
  std::vector<daemon::RecordEntry> refused_;  // to be offered again

  // Requests.
  std::map<daemon::ReplyAddress, AskedRequest> asked_;
  std::map<std::string, std::string> replied_;           // by id, of this process
  std::map<std::string, std::string> restored_answers_;  // by id, as the disk had them at the start
  std::set<std::string> changes_open_;                   // ids without an answer as yet
  std::uint64_t changes_accepted_ = 0;
  std::uint64_t permits_asked_ = 0;

  // The truth.
  std::optional<MonoTime> off_profile_since_;
  std::optional<MonoTime> honest_since_;  // some cell is
  std::optional<MonoTime> powered_since_;
  std::optional<MonoTime> unpermitted_since_;
  std::optional<Litres> level_reference_;
  MonoTime level_reference_at_{};
  std::optional<MonoTime> lost_since_;
};

}  // namespace brinegate::sim
