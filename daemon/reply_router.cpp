// SPDX-License-Identifier: Apache-2.0
// See reply_router.h.
#include "daemon/reply_router.h"

#include <utility>

namespace brinegate::daemon {

ReplyAddress ReplyRouter::expect(Answer answer) {
  const std::lock_guard guard(mutex_);
  if (owed_.size() >= most_owed_) {
    owed_.erase(owed_.begin());
  }
  owed_.emplace(++last_, std::move(answer));
  return last_;
}

void ReplyRouter::answer(ReplyAddress to, const std::string& payload) {
  Answer answer;
  {
    const std::lock_guard guard(mutex_);
    const auto found = owed_.find(to);
    if (found == owed_.end()) {
      return;
    }
    answer = std::move(found->second);
    owed_.erase(found);
  }
  answer(payload);
}

}  // namespace brinegate::daemon
