// SPDX-License-Identifier: Apache-2.0
#include "sim/faults/virtual_disk.h"

#include <algorithm>

#include <nlohmann/json.hpp>

namespace brinegate::sim {
namespace {

using namespace std::chrono_literals;

constexpr Duration usual_time = 5ms;  // of a write, with its sync

}  // namespace

std::string permit_of(const daemon::RecordEntry& entry) {
  if (entry.kind != "permit" && entry.kind != "opened")
    return "";
  return nlohmann::json::parse(entry.body).value("id", "");
}

Result<daemon::RestoredStates> VirtualDisk::open() const {
  if (corrupted_)
    return Error{"the database is malformed"};
  daemon::RestoredStates restored;
  for (const auto& [key, state] : states_)
    restored.push_back(state);
  return restored;
}

void VirtualDisk::append(const daemon::Append& append, MonoTime now) {
  queue({append, true, {}}, now);
}

void VirtualDisk::append_readings(std::uint64_t ticket, MonoTime now) {
  daemon::Append of_history;
  of_history.ticket = ticket;
  queue({std::move(of_history), false, {}}, now);
}

void VirtualDisk::queue(Work work, MonoTime now) {
  const MonoTime begins = queue_.empty() ? now : std::max(now, queue_.back().due);
  work.due = begins + (fault_ == DiskFault::Slow ? slow_by_ : usual_time);
  queue_.push_back(std::move(work));
}

void VirtualDisk::write(const daemon::Append& append) {
  if (lies_)
    return;
  entries_ += append.entries.size();
  for (const daemon::RecordEntry& entry : append.entries) {
    if (entry.kind == "permit" && !permits_.insert(permit_of(entry)).second)
      twice_ = permit_of(entry);
    if (entry.kind != "noted")
      continue;
    const std::string text = nlohmann::json::parse(entry.body).value("text", "");
    if (!text.empty() && !notes_.insert(text).second)
      twice_ = text;
  }
  for (const daemon::StoredState& state : append.states) {
    if (state.body.empty())  // it is kept no longer
      states_.erase({state.table, state.key});
    else
      states_[{state.table, state.key}] = state;
  }
}

std::vector<daemon::AppendFinished> VirtualDisk::work(MonoTime now) {
  std::vector<daemon::AppendFinished> answers;
  while (fault_ != DiskFault::Silent && !queue_.empty() && queue_.front().due <= now) {
    const Work& work = queue_.front();
    const bool ok = fault_ != DiskFault::Full;
    if (ok && work.of_record)
      write(work.append);
    answers.push_back({work.append.ticket, ok});
    queue_.pop_front();
  }
  return answers;
}

std::optional<bool> VirtualDisk::tear(Random& random) {
  const auto first =
      std::find_if(queue_.begin(), queue_.end(), [](const Work& work) { return work.of_record; });
  std::optional<bool> whole;
  if (first != queue_.end())
    whole =
        fault_ != DiskFault::Full && fault_ != DiskFault::Silent && uniform(random, 0.0, 1.0) < 0.5;
  if (whole.value_or(false))
    write(first->append);
  queue_.clear();
  return whole;
}

void VirtualDisk::close(MonoTime now) {
  if (fault_ == DiskFault::Full || fault_ == DiskFault::Silent)
    queue_.clear();
  while (!queue_.empty())
    work(std::max(now, queue_.front().due));
}

std::string VirtualDisk::state(const std::string& table, const std::string& key) const {
  const auto found = states_.find({table, key});
  return found == states_.end() ? "" : found->second.body;
}

}  // namespace brinegate::sim
