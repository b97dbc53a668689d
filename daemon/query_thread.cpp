// SPDX-License-Identifier: Apache-2.0
// See query_thread.h.
#include "daemon/query_thread.h"

#include <utility>

#include "drivers/quiet_thread.h"

namespace brinegate::daemon {

QueryThread::QueryThread(std::size_t most_waiting)
    : most_waiting_(most_waiting),
      thread_(drivers::start_quiet_thread([this] { work_until_closed(); })) {}

QueryThread::~QueryThread() {
  {
    const std::lock_guard guard(mutex_);
    closing_ = true;
  }
  changed_.notify_one();
  thread_.join();
}

bool QueryThread::run(std::function<void()> work) {
  {
    const std::lock_guard guard(mutex_);
    if (waiting_.size() >= most_waiting_) {
      return false;
    }
    waiting_.push_back(std::move(work));
  }
  changed_.notify_one();
  return true;
}

void QueryThread::work_until_closed() {
  for (;;) {
    std::function<void()> work;
    {
      std::unique_lock guard(mutex_);
      changed_.wait(guard, [this] { return closing_ || !waiting_.empty(); });
      if (closing_) {
        return;
      }
      work = std::move(waiting_.front());
      waiting_.pop_front();
    }
    work();
  }
}

}  // namespace brinegate::daemon
