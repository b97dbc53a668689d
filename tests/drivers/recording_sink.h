// SPDX-License-Identifier: Apache-2.0
// A sink for tests: keeps what drivers deliver and waits, bounded, until something was delivered.
#pragma once

#include <algorithm>
#include <chrono>
#include <condition_variable>
#include <functional>
#include <mutex>
#include <utility>
#include <vector>

#include "drivers/driver.h"

namespace brinegate::drivers {

class RecordingSink final : public Sink {
 public:
  void deliver(ProbeKey probe, const Sample& sample) override {
    const std::lock_guard lock(mutex_);
    samples_.emplace_back(probe, sample);
    changed_.notify_all();
  }
  void report(const OutputReport& report) override {
    const std::lock_guard lock(mutex_);
    reports_.push_back(report);
    changed_.notify_all();
  }

  std::vector<Sample> samples(ProbeKey probe) const {
    const std::lock_guard lock(mutex_);
    std::vector<Sample> found;
    for (const auto& [key, sample] : samples_) {
      if (key == probe) {
        found.push_back(sample);
      }
    }
    return found;
  }
  std::vector<OutputReport> reports() const {
    const std::lock_guard lock(mutex_);
    return reports_;
  }
  void forget() {
    const std::lock_guard lock(mutex_);
    samples_.clear();
    reports_.clear();
  }

  bool wait_for_sample(ProbeKey probe, const std::function<bool(const Sample&)>& wanted,
                       std::chrono::milliseconds at_most = std::chrono::seconds(15)) {
    std::unique_lock lock(mutex_);
    return changed_.wait_until(lock, std::chrono::system_clock::now() + at_most, [&] {
      return std::any_of(samples_.begin(), samples_.end(), [&](const auto& entry) {
        return entry.first == probe && wanted(entry.second);
      });
    });
  }
  bool wait_for_fault(ProbeKey probe, SampleFault fault) {
    return wait_for_sample(probe, [fault](const Sample& sample) { return sample.fault == fault; });
  }
  bool wait_for_value(ProbeKey probe, double value) {
    return wait_for_sample(probe, [value](const Sample& sample) {
      return sample.fault == SampleFault::None && sample.value == value;
    });
  }
  bool wait_for_report(bool on, SampleFault fault,
                       std::chrono::milliseconds at_most = std::chrono::seconds(15)) {
    std::unique_lock lock(mutex_);
    return changed_.wait_until(lock, std::chrono::system_clock::now() + at_most, [&] {
      return std::any_of(reports_.begin(), reports_.end(), [&](const OutputReport& report) {
        return report.on == on && report.fault == fault;
      });
    });
  }
  bool was_taken_over() const {
    const auto all = reports();
    return std::any_of(all.begin(), all.end(),
                       [](const OutputReport& report) { return report.taken_over; });
  }

 private:
  mutable std::mutex mutex_;
  std::condition_variable changed_;
  std::vector<std::pair<ProbeKey, Sample>> samples_;
  std::vector<OutputReport> reports_;
};

}  // namespace brinegate::drivers
