// SPDX-License-Identifier: Apache-2.0
// One thread for look-ups in the database that may take their time, so that they hold up no turn.
#pragma once

#include <condition_variable>
#include <cstddef>
#include <deque>
#include <functional>
#include <mutex>
#include <thread>

namespace brinegate::daemon {

class QueryThread {
 public:
  explicit QueryThread(std::size_t most_waiting = 16);
  // Ends after the one that runs; those that wait are forgotten.
  ~QueryThread();
  QueryThread(const QueryThread&) = delete;
  QueryThread& operator=(const QueryThread&) = delete;

  // False: too many wait, and it was not taken.
  bool run(std::function<void()> work);

 private:
  void work_until_closed();

  std::size_t most_waiting_;
  std::mutex mutex_;
  std::condition_variable changed_;
  std::deque<std::function<void()>> waiting_;
  bool closing_ = false;
  std::thread thread_;
};

}  // namespace brinegate::daemon
