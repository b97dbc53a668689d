// SPDX-License-Identifier: Apache-2.0
#include "drivers/poll_schedule.h"

#include <algorithm>

namespace brinegate::drivers {

PollSchedule::PollSchedule(const std::vector<Source>& sources, Duration first_rest,
                           Duration longest_rest)
    : first_rest_(first_rest), longest_rest_(longest_rest) {
  entries_.reserve(sources.size());
  for (const Source& source : sources) {
    entries_.push_back({source, MonoTime::min()});
  }
}

std::optional<PollSchedule::Turn> PollSchedule::take(MonoTime now) {
  const auto by_due = [](const Entry& a, const Entry& b) { return a.due < b.due; };
  const auto first = std::min_element(entries_.begin(), entries_.end(), by_due);
  if (first == entries_.end() || first->due > now) {
    return std::nullopt;
  }
  // From the planned time where that keeps the rhythm, else from now: min() plus a period is past.
  const MonoTime planned = first->due + first->source.every;
  first->due = planned > now ? planned : now + first->source.every;
  Turn turn{static_cast<std::size_t>(first - entries_.begin()), SampleFault::None};
  const auto rest = resting_.find(first->source.unit);
  if (rest != resting_.end() && now < rest->second.until) {
    turn.resting = rest->second.fault;
  }
  return turn;
}

void PollSchedule::unit_answered(std::uint8_t unit) {
  resting_.erase(unit);
}

void PollSchedule::unit_failed(std::uint8_t unit, SampleFault fault, MonoTime now) {
  const auto rest =
      resting_.try_emplace(unit, Rest{Backoff(first_rest_, longest_rest_), fault, now}).first;
  rest->second.fault = fault;
  rest->second.until = now + rest->second.backoff.next();
}

MonoTime PollSchedule::due() const {
  MonoTime earliest = MonoTime::max();
  for (const Entry& entry : entries_) {
    earliest = std::min(earliest, entry.due);
  }
  return earliest;
}

}  // namespace brinegate::drivers
