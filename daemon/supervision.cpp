// SPDX-License-Identifier: Apache-2.0
// See supervision.h.
#include "daemon/supervision.h"

#include <charconv>
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <cstring>
#include <string_view>
#include <utility>

#include <fmt/format.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

namespace brinegate::daemon {
namespace {

constexpr auto longest_reload = std::chrono::seconds(60);

std::string take_from_environment(const char* name) {
  const char* value = std::getenv(name);
  std::string taken = value == nullptr ? "" : value;
  unsetenv(name);
  return taken;
}

std::optional<std::int64_t> positive_number(std::string_view text) {
  std::int64_t number = 0;
  const auto [end, failure] = std::from_chars(text.data(), text.data() + text.size(), number);
  const bool whole = failure == std::errc() && end == text.data() + text.size();
  return whole && number > 0 ? std::optional(number) : std::nullopt;
}

}  // namespace

Supervision Supervision::from_environment() {
  std::string socket = take_from_environment("NOTIFY_SOCKET");
  const auto microseconds = positive_number(take_from_environment("WATCHDOG_USEC"));
  const std::string process = take_from_environment("WATCHDOG_PID");
  const bool for_us = process.empty() || positive_number(process) == getpid();
  std::optional<Duration> watchdog;
  if (microseconds && for_us) {
    watchdog = std::chrono::microseconds(*microseconds);
  }
  return {std::move(socket), watchdog};
}

Supervision::Supervision(std::string socket, std::optional<Duration> watchdog)
    : socket_(std::move(socket)), watchdog_(watchdog) {}

void Supervision::ready() const {
  send_state("READY=1", watchdog_.value_or(Duration::zero()));
}

void Supervision::stopping() const {
  send("STOPPING=1");
}

void Supervision::reloading() const {
  send_state("RELOADING=1", longest_reload);
}

void Supervision::alive(MonoTime now) {
  if (!watchdog_ || (last_alive_ && now - *last_alive_ < *watchdog_ / 4)) {
    return;
  }
  last_alive_ = now;
  send("WATCHDOG=1");
}

void Supervision::send_state(const std::string& state, Duration watchdog) const {
  const auto microseconds = std::chrono::duration_cast<std::chrono::microseconds>(watchdog);
  send(watchdog_ ? fmt::format("{}\nWATCHDOG_USEC={}", state, microseconds.count()) : state);
}

void Supervision::send(const std::string& message) const {
  sockaddr_un address{};
  if (socket_.empty() || socket_.size() > sizeof address.sun_path) {
    return;
  }
  address.sun_family = AF_UNIX;
  std::memcpy(address.sun_path, socket_.data(), socket_.size());
  if (socket_.front() == '@') {
    address.sun_path[0] = '\0';  // the abstract namespace
  }
  const int descriptor = socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
  if (descriptor < 0) {
    return;
  }
  const auto size = static_cast<socklen_t>(offsetof(sockaddr_un, sun_path) + socket_.size());
  // One that is lost is repeated long before the watchdog's time is over.
  (void)sendto(descriptor, message.data(), message.size(), MSG_NOSIGNAL,
               reinterpret_cast<const sockaddr*>(&address), size);
  ::close(descriptor);
}

}  // namespace brinegate::daemon
