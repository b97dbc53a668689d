// SPDX-License-Identifier: Apache-2.0
// What the daemon keeps on disk. Its own thread writes one transaction after the other, so that a
// slow disk delays no decision; a failing one is answered "not written", and the next is tried.
#pragma once

#include <condition_variable>
#include <cstddef>
#include <cstdint>
#include <deque>
#include <filesystem>
#include <functional>
#include <memory>
#include <mutex>
#include <string>
#include <thread>

#include "daemon/data_lock.h"
#include "daemon/engine/effects.h"
#include "daemon/engine/engine.h"
#include "daemon/history_tables.h"
#include "daemon/store_tables.h"
#include "rules/result.h"

namespace brinegate::daemon {

struct StoreOptions {
  config::History history;
  std::size_t queue_limit = 4096;  // of each kind; what comes beyond is answered "not written"
};

struct StoreAnswer {
  std::uint64_t ticket = 0;
  bool ok = false;
  std::string error;  // empty when ok
};

class Store {
 public:
  // Called once for each append, from the store's thread or from within append().
  using Answered = std::function<void(const StoreAnswer&)>;

  // Takes the folder for this process alone and loads what was stored.
  static Result<std::unique_ptr<Store>> open(const std::filesystem::path& data, Answered answered,
                                             StoreOptions options = {});
  ~Store();
  Store(const Store&) = delete;
  Store& operator=(const Store&) = delete;

  [[nodiscard]] const RestoredStates& restored() const { return restored_; }

  void append(Append append);
  void append_readings(AppendReadings append);
  // Writes what is queued, then ends. What comes later is answered "not written".
  void close();

 private:
  Store(DataLock lock, RecordWriter record, HistoryWriter history, RestoredStates restored,
        Answered answered, StoreOptions options);
  template <class Work>
  void queue(std::deque<Work>& waiting, Work work);
  void answer(std::uint64_t ticket, const Result<Done>& result);
  void write_until_closed();

  DataLock lock_;
  RecordWriter record_;    // used by the thread only
  HistoryWriter history_;  // used by the thread only
  RestoredStates restored_;
  Answered answered_;
  StoreOptions options_;

  std::mutex mutex_;
  std::condition_variable changed_;
  std::deque<Append> appends_;
  std::deque<AppendReadings> readings_;
  bool closing_ = false;
  std::thread thread_;
};

}  // namespace brinegate::daemon
