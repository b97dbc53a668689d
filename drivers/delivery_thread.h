// SPDX-License-Identifier: Apache-2.0
// One message on its way at a time, on a thread of its own, tried again with growing pauses until
// it is delivered, refused, or too old. Whoever has more to say meanwhile gathers it.
#pragma once

#include <atomic>
#include <chrono>
#include <condition_variable>
#include <cstdint>
#include <functional>
#include <mutex>
#include <optional>
#include <thread>

#include "drivers/delivery.h"
#include "rules/time.h"

namespace brinegate::drivers {

struct DeliveryPatience {
  Duration first = std::chrono::seconds(1);  // pause after a failure, then twice as long each time
  Duration longest = std::chrono::minutes(5);
  Duration whole = std::chrono::hours(24);  // after so long a message is given up
};

struct DeliveryReport {
  DeliveryOutcome outcome;
  std::optional<Duration> again_in;  // none: it has ended
};

// Since the start.
struct DeliveryCounts {
  std::uint64_t delivered = 0;
  std::uint64_t failed = 0;    // attempts
  std::uint64_t given_up = 0;  // messages
  bool waiting = false;        // one is on its way now
};

class DeliveryThread {
 public:
  // Told on the delivery's thread, after each attempt.
  using Tell = std::function<void(const DeliveryReport& report)>;

  DeliveryThread(Carry carry, DeliveryPatience patience, Tell tell);
  // Breaks off what is on its way.
  ~DeliveryThread();
  DeliveryThread(const DeliveryThread&) = delete;
  DeliveryThread& operator=(const DeliveryThread&) = delete;

  [[nodiscard]] bool idle() const { return !busy_; }
  [[nodiscard]] DeliveryCounts counts() const { return {delivered_, failed_, given_up_, busy_}; }
  // Only while idle.
  void send(Dispatch dispatch);

 private:
  void work();
  void deliver(const Dispatch& dispatch);
  void count(const DeliveryReport& report);

  Carry carry_;
  DeliveryPatience patience_;
  Tell tell_;
  std::mutex mutex_;
  std::condition_variable changed_;
  std::optional<Dispatch> next_;
  std::atomic<std::uint64_t> delivered_ = 0;
  std::atomic<std::uint64_t> failed_ = 0;
  std::atomic<std::uint64_t> given_up_ = 0;
  std::atomic<bool> busy_ = false;
  std::atomic<bool> stop_ = false;
  std::thread thread_;
};

}  // namespace brinegate::drivers
