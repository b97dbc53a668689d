// SPDX-License-Identifier: Apache-2.0
// See store.h.
#include "daemon/store.h"

#include <optional>
#include <utility>

#include "drivers/quiet_thread.h"

namespace brinegate::daemon {
namespace {

template <class Work>
std::optional<Work> take_first(std::deque<Work>& waiting) {
  if (waiting.empty()) {
    return std::nullopt;
  }
  std::optional<Work> first = std::move(waiting.front());
  waiting.pop_front();
  return first;
}

}  // namespace

Result<std::unique_ptr<Store>> Store::open(const std::filesystem::path& data, Answered answered,
                                           StoreOptions options) {
  Result<DataLock> lock = DataLock::take(data);
  if (!lock.ok()) {
    return lock.error();
  }
  Result<RecordWriter> record = RecordWriter::open(data);
  if (!record.ok()) {
    return record.error();
  }
  Result<HistoryWriter> history = HistoryWriter::open(data, options.history);
  if (!history.ok()) {
    return history.error();
  }
  Result<RestoredStates> restored = query_states(data, "", "");
  if (!restored.ok()) {
    return restored.error();
  }
  return std::unique_ptr<Store>(new Store(std::move(lock).value(), std::move(record).value(),
                                          std::move(history).value(), std::move(restored).value(),
                                          std::move(answered), options));
}

Store::Store(DataLock lock, RecordWriter record, HistoryWriter history, RestoredStates restored,
             Answered answered, StoreOptions options)
    : lock_(std::move(lock)),
      record_(std::move(record)),
      history_(std::move(history)),
      restored_(std::move(restored)),
      answered_(std::move(answered)),
      options_(options),
      thread_(drivers::start_quiet_thread([this] { write_until_closed(); })) {}

Store::~Store() {
  close();
}

void Store::append(Append append) {
  queue(appends_, std::move(append));
}

void Store::append_readings(AppendReadings append) {
  queue(readings_, std::move(append));
}

void Store::close() {
  {
    const std::lock_guard guard(mutex_);
    closing_ = true;
  }
  changed_.notify_one();
  if (thread_.joinable()) {
    thread_.join();
  }
}

template <class Work>
void Store::queue(std::deque<Work>& waiting, Work work) {
  const std::uint64_t ticket = work.ticket;
  std::string refused;
  {
    const std::lock_guard guard(mutex_);
    if (closing_) {
      refused = "the store is closed";
    } else if (waiting.size() >= options_.queue_limit) {
      refused = "the disk is too slow: too much waits to be written";
    } else {
      waiting.push_back(std::move(work));
    }
  }
  if (refused.empty()) {
    changed_.notify_one();
  } else {
    answer(ticket, Error{refused});
  }
}

void Store::answer(std::uint64_t ticket, const Result<Done>& result) {
  answered_({ticket, result.ok(), result.ok() ? "" : result.error().message});
}

void Store::write_until_closed() {
  for (;;) {
    std::optional<Append> append;
    std::optional<AppendReadings> readings;
    {
      std::unique_lock guard(mutex_);
      changed_.wait(guard, [this] { return closing_ || !appends_.empty() || !readings_.empty(); });
      append = take_first(appends_);  // the gate waits for these
      if (!append) {
        readings = take_first(readings_);
      }
    }
    if (append) {
      answer(append->ticket, record_.append(*append));
    } else if (readings) {
      answer(readings->ticket, history_.append(*readings));
    } else {
      return;
    }
  }
}

}  // namespace brinegate::daemon
