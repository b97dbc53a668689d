// SPDX-License-Identifier: Apache-2.0
// See control_client.h.
#include "daemon/control_client.h"

#include <algorithm>
#include <array>
#include <cassert>
#include <cerrno>
#include <cstring>
#include <utility>

#include <fmt/format.h>
#include <poll.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

namespace brinegate::daemon {
namespace {

constexpr std::size_t longest_answer = std::size_t{16} << 20;

using Clock = std::chrono::steady_clock;

class Descriptor {
 public:
  explicit Descriptor(int descriptor) : descriptor_(descriptor) {}
  Descriptor(const Descriptor&) = delete;
  Descriptor& operator=(const Descriptor&) = delete;
  ~Descriptor() {
    if (descriptor_ >= 0) {
      ::close(descriptor_);
    }
  }
  [[nodiscard]] int get() const { return descriptor_; }

 private:
  int descriptor_;
};

// One question: the connection and how long it may take in all.
class Question {
 public:
  Question(const std::filesystem::path& socket, std::chrono::milliseconds timeout)
      : path_(socket.string()),
        timeout_(timeout),
        deadline_(Clock::now() + timeout),
        descriptor_(::socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0)) {}

  Result<std::string> ask(std::string_view request) {
    if (const Result<Done> connected = connect(); !connected.ok()) {
      return connected.error();
    }
    const Result<Done> sent = send(std::string(request) + "\n");
    // A daemon that refuses may close before it has read all; what it says still comes first.
    Result<std::string> answer = receive_line();
    return sent.ok() || answer.ok() ? answer : sent.error();
  }

 private:
  [[nodiscard]] Error unreachable(const std::string& why) const {
    return {fmt::format("could not reach the daemon at {}: {}", path_, why)};
  }
  [[nodiscard]] Error unreachable(int code) const {
    if (code == ENOENT || code == ECONNREFUSED) {
      return unreachable("it does not run, or runs with another data folder");
    }
    return unreachable(std::strerror(code));
  }

  // Waits until the descriptor is ready; false when the time is over.
  [[nodiscard]] bool wait(short events) const {
    for (;;) {
      const auto left =
          std::chrono::duration_cast<std::chrono::milliseconds>(deadline_ - Clock::now()).count();
      if (left <= 0) {
        return false;
      }
      pollfd ready{descriptor_.get(), events, 0};
      const int count = poll(&ready, 1, static_cast<int>(std::min<long>(left, 1000)));
      if (count > 0 || (count < 0 && errno != EINTR)) {
        return true;
      }
    }
  }

  [[nodiscard]] Error too_late() const {
    return unreachable(fmt::format("no answer within {} ms", timeout_.count()));
  }

  Result<Done> connect() {
    sockaddr_un address{};
    address.sun_family = AF_UNIX;
    if (path_.size() >= sizeof address.sun_path) {
      return unreachable(fmt::format("the path is longer than {} bytes: use a shorter data folder",
                                     sizeof address.sun_path - 1));
    }
    std::memcpy(address.sun_path, path_.c_str(), path_.size());
    while (::connect(descriptor_.get(), reinterpret_cast<const sockaddr*>(&address),
                     sizeof address) != 0) {
      if (errno == EINTR) {
        continue;
      }
      if (errno != EAGAIN) {
        return unreachable(errno);
      }
      // Too many wait for the daemon already; nothing tells when that ends.
      if (Clock::now() >= deadline_) {
        return too_late();
      }
      poll(nullptr, 0, 20);
    }
    return Done{};
  }

  Result<Done> send(const std::string& line) {
    std::string_view left = line;
    while (!left.empty()) {
      const ssize_t size = ::send(descriptor_.get(), left.data(), left.size(), MSG_NOSIGNAL);
      if (size >= 0) {
        left.remove_prefix(static_cast<std::size_t>(size));
      } else if (errno == EAGAIN) {
        if (!wait(POLLOUT)) {
          return too_late();
        }
      } else if (errno != EINTR) {
        return unreachable(errno);
      }
    }
    return Done{};
  }

  Result<std::string> receive_line() {
    std::string answer;
    std::array<char, 4096> part{};
    while (answer.size() < longest_answer) {
      const ssize_t size = ::recv(descriptor_.get(), part.data(), part.size(), 0);
      if (size > 0) {
        answer.append(part.data(), static_cast<std::size_t>(size));
        if (const std::size_t end = answer.find('\n'); end != std::string::npos) {
          answer.resize(end);
          return answer;
        }
      } else if (size == 0) {
        return unreachable("it closed the connection without an answer");
      } else if (errno == EAGAIN) {
        if (!wait(POLLIN)) {
          return too_late();
        }
      } else if (errno != EINTR) {
        return unreachable(errno);
      }
    }
    return unreachable("its answer is longer than 16 MB");
  }

  std::string path_;
  std::chrono::milliseconds timeout_;
  Clock::time_point deadline_;
  Descriptor descriptor_;
};

}  // namespace

std::filesystem::path control_socket_file(const std::filesystem::path& data) {
  return data / "brinegate.sock";
}

Result<std::string> ask_daemon(const std::filesystem::path& socket, std::string_view request,
                               std::chrono::milliseconds timeout) {
  assert(request.find('\n') == std::string_view::npos);
  return Question(socket, timeout).ask(request);
}

}  // namespace brinegate::daemon
