// SPDX-License-Identifier: Apache-2.0
// Stands in for the service manager: a real datagram socket that hears what a daemon notifies.
#pragma once

#include <array>
#include <chrono>
#include <cstddef>
#include <cstring>
#include <string>
#include <utility>

#include <gtest/gtest.h>
#include <poll.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

namespace brinegate::daemon {

class ServiceManager {
 public:
  // A path, or '@' and a name in the abstract namespace.
  explicit ServiceManager(std::string address) : address_(std::move(address)) {
    sockaddr_un name{};
    name.sun_family = AF_UNIX;
    std::memcpy(name.sun_path, address_.data(), address_.size());
    if (address_.front() == '@') {
      name.sun_path[0] = '\0';
    } else {
      ::unlink(address_.c_str());
    }
    const auto size = static_cast<socklen_t>(offsetof(sockaddr_un, sun_path) + address_.size());
    EXPECT_EQ(bind(descriptor_, reinterpret_cast<const sockaddr*>(&name), size), 0);
  }
  ~ServiceManager() { ::close(descriptor_); }
  ServiceManager(const ServiceManager&) = delete;
  ServiceManager& operator=(const ServiceManager&) = delete;

  [[nodiscard]] const std::string& address() const { return address_; }

  // The next message; empty when none comes within that time.
  [[nodiscard]] std::string hears(std::chrono::milliseconds within = {}) const {
    pollfd ready{descriptor_, POLLIN, 0};
    std::array<char, 256> text{};
    if (poll(&ready, 1, static_cast<int>(within.count())) != 1) {
      return "";
    }
    const ssize_t size = recv(descriptor_, text.data(), text.size(), 0);
    return size > 0 ? std::string(text.data(), static_cast<std::size_t>(size)) : "";
  }

 private:
  std::string address_;
  int descriptor_ = socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC, 0);
};

}  // namespace brinegate::daemon
