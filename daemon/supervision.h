// SPDX-License-Identifier: Apache-2.0
// What is said to the service manager that started the daemon (the sd_notify protocol: one datagram
// to the socket named in the environment). Without such a manager everything here does nothing.
#pragma once

#include <optional>
#include <string>

#include "rules/time.h"

namespace brinegate::daemon {

class Supervision {
 public:
  // From NOTIFY_SOCKET, WATCHDOG_USEC and WATCHDOG_PID, which are taken out of the environment, so
  // that no child process speaks for the daemon.
  static Supervision from_environment();
  Supervision(std::string socket, std::optional<Duration> watchdog);

  void ready() const;
  void stopping() const;
  // Until ready() is said again. Between the two nobody turns, and the slowest lines may take
  // longer to close and to open than the watchdog waits: it waits longer for as long.
  void reloading() const;
  // A healthy turn ended: passed on a few times in each watchdog period.
  void alive(MonoTime now);

 private:
  // `watchdog`: how long it is to wait from now on, where there is one.
  void send_state(const std::string& state, Duration watchdog) const;
  void send(const std::string& message) const;

  std::string socket_;
  std::optional<Duration> watchdog_;
  std::optional<MonoTime> last_alive_;
};

}  // namespace brinegate::daemon
