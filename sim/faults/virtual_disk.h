// SPDX-License-Identifier: Apache-2.0
// The daemon's store in virtual time: one append after the other, each answered once it is written
// or refused, and what a kill leaves of it. What was acknowledged is kept; the append that was
// being written at a kill is there whole or not at all.
#pragma once

#include <cstdint>
#include <deque>
#include <map>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "daemon/engine/engine.h"
#include "rules/result.h"
#include "rules/time.h"
#include "sim/random.h"

namespace brinegate::sim {

enum class DiskFault { Full, Slow, Silent, None };

class VirtualDisk {
 public:
  // What is found at a start, in the order in which the store gives it; error where the record is
  // corrupted.
  [[nodiscard]] Result<daemon::RestoredStates> open() const;

  void append(const daemon::Append& append, MonoTime now);
  void append_readings(std::uint64_t ticket, MonoTime now);
  // Writes and answers what is due by now.
  std::vector<daemon::AppendFinished> work(MonoTime now);
  // The process is killed: true where the append under way turned out whole, none where there was
  // none.
  std::optional<bool> tear(Random& random);
  // A daemon that stops has everything written that can be.
  void close(MonoTime now);

  void set_fault(DiskFault fault, Duration slow_by) {
    fault_ = fault;
    slow_by_ = slow_by;
  }
  void corrupt() { corrupted_ = true; }
  [[nodiscard]] bool corrupted() const { return corrupted_; }
  // A person puts an empty record in its place.
  void replace() { *this = VirtualDisk(); }
  // Deliberately broken, for the campaign's own tests: acknowledges and forgets.
  void lie() { lies_ = true; }

  [[nodiscard]] bool has_permit(const std::string& id) const { return permits_.contains(id); }
  [[nodiscard]] std::uint64_t entries() const { return entries_; }
  // A permit, or a note by its text, that stands on the record a second time.
  [[nodiscard]] const std::string& twice() const { return twice_; }
  // Of a table and key; empty where there is nothing.
  [[nodiscard]] std::string state(const std::string& table, const std::string& key) const;

 private:
  struct Work {
    daemon::Append append;
    bool of_record = true;
    MonoTime due;
  };
  void write(const daemon::Append& append);
  void queue(Work work, MonoTime now);

  std::map<std::pair<std::string, std::string>, daemon::StoredState> states_;
  std::set<std::string> permits_;
  std::set<std::string> notes_;
  std::string twice_;
  std::uint64_t entries_ = 0;
  std::deque<Work> queue_;
  DiskFault fault_ = DiskFault::None;
  Duration slow_by_{0};
  bool corrupted_ = false;
  bool lies_ = false;
};

// The id of the permit that a record's entry is about; empty of others.
std::string permit_of(const daemon::RecordEntry& entry);

}  // namespace brinegate::sim
