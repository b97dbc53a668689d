// SPDX-License-Identifier: Apache-2.0
// Brings the loop, what is to be told of alarms, and those who carry it together. On the loop, but
// for what the carriers say of themselves.
#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "config/notify.h"
#include "daemon/alarm_notices.h"
#include "daemon/engine/effects.h"
#include "drivers/delivery_thread.h"
#include "rules/result.h"
#include "rules/time.h"

namespace brinegate::daemon {

// Of one receiver.
struct ReceiverCounts {
  std::string name;     // "phone" of [notify.phone], or "heartbeat"
  std::string_view by;  // "webhook", "mail" or "heartbeat"
  drivers::DeliveryCounts counts;
};

class Notifier {
 public:
  using Say = std::function<void(LogLevel level, std::string text)>;  // from any thread

  // Error where a secret cannot be read.
  static Result<std::unique_ptr<Notifier>> start(const config::Notify& notify, std::string site,
                                                 Say say);

  void take_state(const std::string& state);
  void record_written(MonoTime at) { written_ = at; }
  void record_refused() { written_.reset(); }
  // At each turn of the loop.
  void turn(Instant now);
  [[nodiscard]] std::vector<ReceiverCounts> counts() const;

 private:
  struct Target {
    std::string name;
    std::string_view by;
    AlarmNotices notices;
    std::unique_ptr<drivers::DeliveryThread> delivery;
  };
  explicit Notifier(std::string site);
  Result<Done> add(const config::NotifyTarget& target, const Say& say);
  void add(const config::Heartbeat& heartbeat, const Say& say);
  void beat(MonoTime now);

  std::string site_;
  std::string run_;  // in front of each id, so that none comes again after a restart
  std::uint64_t next_id_ = 1;
  std::vector<Target> targets_;
  std::unique_ptr<drivers::DeliveryThread> heartbeat_;
  Duration beat_every_{0};
  std::optional<MonoTime> beaten_;
  std::optional<MonoTime> written_;  // when the disk last took something
};

}  // namespace brinegate::daemon
