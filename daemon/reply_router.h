// SPDX-License-Identifier: Apache-2.0
// Remembers whom to answer while the engine thinks. Bounded: where too many are owed an answer, the
// one who has waited longest gets none.
#pragma once

#include <cstddef>
#include <functional>
#include <map>
#include <mutex>
#include <string>

#include "daemon/engine/events.h"

namespace brinegate::daemon {

// Safe from any thread; answers are given on the thread that calls answer().
class ReplyRouter {
 public:
  using Answer = std::function<void(const std::string& payload)>;

  explicit ReplyRouter(std::size_t most_owed = 1024) : most_owed_(most_owed) {}

  ReplyAddress expect(Answer answer);
  // The first time only; an address that is not known (any more) is passed over.
  void answer(ReplyAddress to, const std::string& payload);

 private:
  std::size_t most_owed_;
  std::mutex mutex_;
  std::map<ReplyAddress, Answer> owed_;  // addresses grow, so the first has waited longest
  ReplyAddress last_ = 0;
};

}  // namespace brinegate::daemon
