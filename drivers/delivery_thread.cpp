// SPDX-License-Identifier: Apache-2.0
// See delivery_thread.h.
#include "drivers/delivery_thread.h"

#include <utility>

#include "drivers/backoff.h"
#include "drivers/clock.h"
#include "drivers/quiet_thread.h"

namespace brinegate::drivers {

DeliveryThread::DeliveryThread(Carry carry, DeliveryPatience patience, Tell tell)
    : carry_(std::move(carry)),
      patience_(patience),
      tell_(std::move(tell)),
      thread_(start_quiet_thread([this] { work(); })) {}

DeliveryThread::~DeliveryThread() {
  {
    const std::lock_guard guard(mutex_);
    stop_ = true;
  }
  changed_.notify_one();
  thread_.join();
}

void DeliveryThread::send(Dispatch dispatch) {
  {
    const std::lock_guard guard(mutex_);
    next_ = std::move(dispatch);
    busy_ = true;
  }
  changed_.notify_one();
}

void DeliveryThread::work() {
  for (;;) {
    std::unique_lock guard(mutex_);
    changed_.wait(guard, [this] { return stop_ || next_; });
    if (stop_) {
      return;
    }
    const Dispatch dispatch = *std::exchange(next_, std::nullopt);
    guard.unlock();
    deliver(dispatch);
    busy_ = false;
  }
}

void DeliveryThread::deliver(const Dispatch& dispatch) {
  const MonoTime end = monotonic_now() + patience_.whole;
  Backoff backoff(patience_.first, patience_.longest);
  while (!stop_) {
    const DeliveryOutcome outcome = carry_(dispatch, wall_now(), stop_);
    if (stop_) {
      return;
    }
    const Duration pause = backoff.next();
    const bool again = outcome.end == DeliveryEnd::TryLater && monotonic_now() + pause < end;
    const DeliveryReport report{outcome, again ? std::optional(pause) : std::nullopt};
    count(report);
    tell_(report);
    if (!again) {
      return;
    }
    std::unique_lock guard(mutex_);
    changed_.wait_for(guard, pause, [this] { return stop_.load(); });
  }
}

void DeliveryThread::count(const DeliveryReport& report) {
  if (report.outcome.end == DeliveryEnd::Delivered) {
    ++delivered_;
    return;
  }
  ++failed_;
  if (!report.again_in) {
    ++given_up_;
  }
}

}  // namespace brinegate::drivers
