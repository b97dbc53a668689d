// SPDX-License-Identifier: Apache-2.0
// See event_queue.h.
#include "daemon/event_queue.h"

#include <utility>
#include <variant>

namespace brinegate::daemon {

EventQueue::EventQueue(std::function<void()> wake, EventLimits limits)
    : wake_(std::move(wake)), limits_(limits) {}

bool EventQueue::put(Event event) {
  bool first = false;
  {
    const std::lock_guard guard(mutex_);
    if (!count_if_within_limits(event)) {
      ++waiting_.dropped;
      return false;
    }
    first = waiting_.events.empty();
    waiting_.events.push_back(std::move(event));
  }
  if (first) {
    wake_();
  }
  return true;
}

EventQueue::Taken EventQueue::take() {
  const std::lock_guard guard(mutex_);
  samples_ = 0;
  requests_.clear();
  return std::exchange(waiting_, {});
}

bool EventQueue::count_if_within_limits(const Event& event) {
  const auto count = [](std::size_t& waiting, std::size_t limit) {
    const bool within = waiting < limit;
    waiting += within ? 1 : 0;
    return within;
  };
  if (std::holds_alternative<SampleArrived>(event)) {
    return count(samples_, limits_.samples);
  }
  if (const auto* request = std::get_if<RequestArrived>(&event)) {
    return count(requests_[request->origin],
                 request->origin == Origin::Reader ? limits_.readings : limits_.requests);
  }
  return true;
}

}  // namespace brinegate::daemon
