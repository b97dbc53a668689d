// SPDX-License-Identifier: Apache-2.0
// The one conversation between deciding and doing: events in, effects out, time passed in. Owns no
// descriptor, thread, clock or disk, so the simulator and the tests run the very same object.
#pragma once

#include <cstddef>
#include <memory>
#include <span>
#include <string>
#include <vector>

#include "config/model.h"
#include "daemon/engine/effects.h"
#include "daemon/engine/events.h"
#include "rules/result.h"
#include "rules/time.h"

namespace brinegate::daemon {

// What the record knew when the daemon last ran: every StoredState that was written, latest only.
using RestoredStates = std::vector<StoredState>;

// Of each probe one reading goes into the history.
constexpr Duration history_every = std::chrono::seconds(5);

class Engine {
 public:
  // Error where what was restored cannot be read. `unwritten_kept`: entries of the record that wait
  // for a disk that takes nothing; what is beyond is lost, and counted on record.
  static Result<std::unique_ptr<Engine>> create(const config::Site& site,
                                                const RestoredStates& restored, Instant now,
                                                std::size_t unwritten_kept = 10'000);
  ~Engine();
  Engine(const Engine&) = delete;
  Engine& operator=(const Engine&) = delete;

  // One turn: takes everything that happened, evaluates every station once, says what to do. Call
  // at least every 200 ms (with no events if there are none); the first call drives every output.
  std::vector<Effect> turn(std::span<const Event> events, Instant now);

 private:
  struct Parts;
  explicit Engine(std::unique_ptr<Parts> parts);
  std::unique_ptr<Parts> parts_;
};

}  // namespace brinegate::daemon
