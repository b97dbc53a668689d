// SPDX-License-Identifier: Apache-2.0
// Events on their way from any thread to the loop. Bounded where the world decides how many come.
#pragma once

#include <cstddef>
#include <functional>
#include <map>
#include <mutex>
#include <vector>

#include "daemon/engine/events.h"

namespace brinegate::daemon {

struct EventLimits {
  std::size_t samples = 8192;  // waiting; a probe whose samples are lost goes stale and shuts
  // Of each origin, so that a flood from the network does not keep out whoever stands at the
  // vessel. So many are taken in one turn at most, and no turn may last.
  std::size_t requests = 64;
  std::size_t readings = 32;  // over HTTP, each of which tells the state anew
};

class EventQueue {
 public:
  // `wake` is called from the putting thread when the first event after a take() came.
  explicit EventQueue(std::function<void()> wake, EventLimits limits = {});

  // False: too many of its kind wait, and it was dropped. Only samples and requests ever are.
  bool put(Event event);

  struct Taken {
    std::vector<Event> events;
    std::size_t dropped = 0;  // since the last take
  };
  Taken take();

 private:
  bool count_if_within_limits(const Event& event);

  std::function<void()> wake_;
  EventLimits limits_;
  std::mutex mutex_;
  Taken waiting_;
  std::size_t samples_ = 0;
  std::map<Origin, std::size_t> requests_;
};

}  // namespace brinegate::daemon
