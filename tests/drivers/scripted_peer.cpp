// SPDX-License-Identifier: Apache-2.0
#include "tests/drivers/scripted_peer.h"

#include <array>
#include <cstdlib>
#include <stdexcept>
#include <utility>

#include <arpa/inet.h>
#include <fcntl.h>
#include <poll.h>
#include <sys/socket.h>
#include <termios.h>
#include <unistd.h>

namespace brinegate::drivers {

std::uint16_t crc16(const Bytes& bytes) {
  unsigned crc = 0xFFFFU;
  for (const std::uint8_t byte : bytes) {
    crc ^= byte;
    for (int bit = 0; bit < 8; ++bit) {
      crc = (crc & 1U) != 0 ? (crc >> 1U) ^ 0xA001U : crc >> 1U;
    }
  }
  return static_cast<std::uint16_t>(crc);
}

Bytes from_hex(const std::string& text) {
  Bytes bytes;
  std::string digits;
  for (const char c : text) {
    if (c == ' ') {
      continue;
    }
    digits.push_back(c);
    if (digits.size() == 2) {
      bytes.push_back(static_cast<std::uint8_t>(std::stoul(digits, nullptr, 16)));
      digits.clear();
    }
  }
  return bytes;
}

ScriptedPeer::ScriptedPeer(Medium medium, Script script)
    : medium_(medium), script_(std::move(script)) {
  if (medium_ == Medium::Tcp) {
    descriptor_ = ::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    sockaddr_in address{};
    address.sin_family = AF_INET;
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    socklen_t size = sizeof address;
    auto* generic = reinterpret_cast<sockaddr*>(&address);
    if (::bind(descriptor_, generic, size) != 0 || ::listen(descriptor_, 8) != 0 ||
        ::getsockname(descriptor_, generic, &size) != 0) {
      throw std::runtime_error("no loopback port");
    }
    port_ = ntohs(address.sin_port);
  } else {
    descriptor_ = ::posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC);
    if (descriptor_ < 0 || ::grantpt(descriptor_) != 0 || ::unlockpt(descriptor_) != 0) {
      throw std::runtime_error("no pseudo terminal");
    }
    std::array<char, 128> name{};
    ::ptsname_r(descriptor_, name.data(), name.size());
    device_ = name.data();
    keeps_open_ = ::open(device_.c_str(), O_RDWR | O_NOCTTY | O_CLOEXEC);
    termios raw{};
    ::tcgetattr(keeps_open_, &raw);
    ::cfmakeraw(&raw);
    ::tcsetattr(keeps_open_, TCSANOW, &raw);
  }
  thread_ = std::thread([this] { run(); });
}

ScriptedPeer::~ScriptedPeer() {
  stop_ = true;
  thread_.join();
  ::close(descriptor_);
  if (keeps_open_ >= 0) {
    ::close(keeps_open_);
  }
}

config::Link ScriptedPeer::link(std::chrono::milliseconds timeout) const {
  config::Link link;
  link.name = "rack";
  link.timeout = timeout;
  if (medium_ == Medium::Tcp) {
    link.address = config::TcpAddress{"127.0.0.1", port_};
  } else {
    link.address = config::SerialAddress{device_, 19200, config::Parity::Even, 1};
  }
  return link;
}

std::vector<SeenRequest> ScriptedPeer::requests() const {
  const std::lock_guard lock(mutex_);
  return requests_;
}

void ScriptedPeer::run() {
  while (!stop_) {
    if (medium_ == Medium::Serial) {
      serve(descriptor_);
      continue;
    }
    pollfd waiting{descriptor_, POLLIN, 0};
    if (::poll(&waiting, 1, 20) <= 0) {
      continue;
    }
    const int connection = ::accept(descriptor_, nullptr, nullptr);
    ++connections_;
    serve(connection);
    ::close(connection);
  }
}

bool ScriptedPeer::read_exactly(int descriptor, Bytes& into, std::size_t count) {
  for (std::size_t got = 0; got < count && !stop_;) {
    pollfd waiting{descriptor, POLLIN, 0};
    if (::poll(&waiting, 1, 20) <= 0) {
      continue;
    }
    std::uint8_t byte = 0;
    if (::read(descriptor, &byte, 1) != 1) {
      return false;
    }
    into.push_back(byte);
    ++got;
  }
  return !stop_;
}

bool ScriptedPeer::read_request(int descriptor, SeenRequest& request) {
  Bytes& frame = request.frame;
  if (medium_ == Medium::Tcp) {
    if (!read_exactly(descriptor, frame, 6) ||
        !read_exactly(descriptor, frame, std::size_t{frame[4]} * 256 + frame[5])) {
      return false;
    }
    request.unit = frame[6];
    request.pdu.assign(frame.begin() + 7, frame.end());
  } else {
    constexpr std::size_t frame_of_functions_1_to_6 = 8;
    if (!read_exactly(descriptor, frame, frame_of_functions_1_to_6)) {
      return false;
    }
    request.unit = frame[0];
    request.pdu.assign(frame.begin() + 1, frame.end() - 2);
  }
  request.at = std::chrono::steady_clock::now();
  return true;
}

void ScriptedPeer::serve(int descriptor) {
  SeenRequest request;
  while (!stop_ && read_request(descriptor, request)) {
    {
      const std::lock_guard lock(mutex_);
      requests_.push_back(request);
    }
    answer(descriptor, request, script_(request));
    request = {};
  }
}

void ScriptedPeer::answer(int descriptor, const SeenRequest& request,
                          const ScriptedAnswer& answer) {
  std::this_thread::sleep_for(answer.after);
  if (answer.pdu.empty()) {
    return;
  }
  const std::uint8_t unit = answer.unit != 0 ? answer.unit : request.unit;
  Bytes frame;
  if (medium_ == Medium::Tcp) {
    const auto length = static_cast<std::uint8_t>(answer.pdu.size() + 1);
    const auto low = static_cast<std::uint8_t>(request.frame[1] ^ (answer.spoil ? 0x55U : 0U));
    frame = {request.frame[0], low, 0, 0, 0, length};
  }
  frame.push_back(unit);
  frame.insert(frame.end(), answer.pdu.begin(), answer.pdu.end());
  if (medium_ == Medium::Serial) {
    const auto crc = static_cast<std::uint16_t>(crc16(frame) ^ (answer.spoil ? 1U : 0U));
    frame.push_back(static_cast<std::uint8_t>(crc & 0xFFU));
    frame.push_back(static_cast<std::uint8_t>(crc >> 8U));
  }
  // MSG_NOSIGNAL does not exist for terminals: a connection closed meanwhile must not end the test.
  if (medium_ == Medium::Tcp) {
    ::send(descriptor, frame.data(), frame.size(), MSG_NOSIGNAL);
  } else if (::write(descriptor, frame.data(), frame.size()) < 0) {
    stop_ = true;
  }
}

}  // namespace brinegate::drivers
