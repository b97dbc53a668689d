// SPDX-License-Identifier: Apache-2.0
// Modbus RTU on a pseudo-terminal: unit, PDU, CRC. A pseudo-terminal has no baud rate and no
// silences, so the end of a request follows from its function and the wire's time is waited out.
#include <array>
#include <cerrno>
#include <chrono>
#include <cstddef>
#include <cstring>
#include <utility>

#include <boost/asio/buffer.hpp>
#include <boost/asio/posix/stream_descriptor.hpp>
#include <boost/asio/steady_timer.hpp>
#include <fcntl.h>
#include <fmt/format.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <termios.h>
#include <unistd.h>

#include "sim/answer_outbox.h"
#include "sim/modbus_slave.h"

namespace brinegate::sim {
namespace {

namespace asio = boost::asio;
using boost::system::error_code;

constexpr std::size_t largest_frame = 256;
constexpr std::size_t most_answers_waiting = 16;
// One character is 11 bits: start, eight data, parity, stop.
constexpr Duration character_time{11 * 1'000'000'000LL / 19200};
// A request that stays incomplete this long was garbled; what came of it is dropped. Longer than
// 3.5 characters, because a loaded machine may be late to hand a frame over.
constexpr Duration request_timeout = std::chrono::milliseconds(50);

// Length of the request that starts with these bytes; 0 while that cannot be told yet.
std::size_t request_size(const Pdu& bytes) {
  if (bytes.size() < 2)
    return 0;
  const std::uint8_t function = bytes[1];
  if (function >= 1 && function <= 6)
    return 8;
  if (function == 15 || function == 16)
    return bytes.size() < 7 ? 0 : 9u + bytes[6];
  return 4;  // a function this slave does not know: unit, function, CRC
}

// Everything that outlives the slave while a handler of the loop still holds it.
class Line : public std::enable_shared_from_this<Line> {
 public:
  Line(asio::posix::stream_descriptor master, int client_side, AnswerRequest answer)
      : master_(std::move(master)),
        client_side_(client_side),
        idle_(master_.get_executor()),
        answer_(std::move(answer)) {}
  ~Line() { ::close(client_side_); }
  Line(const Line&) = delete;
  Line& operator=(const Line&) = delete;

  void start() { read(); }
  void stop() {
    error_code ignored;
    idle_.cancel();
    master_.close(ignored);
  }

 private:
  void read() {
    master_.async_read_some(
        asio::buffer(chunk_), [self = shared_from_this()](error_code error, std::size_t size) {
          if (error)
            return self->stop();
          self->request_.insert(self->request_.end(), self->chunk_.begin(),
                                self->chunk_.begin() + static_cast<std::ptrdiff_t>(size));
          self->take_requests();
          self->read();
        });
  }

  void take_requests() {
    idle_.cancel();
    while (const std::size_t size = request_size(request_)) {
      if (request_.size() < size)
        break;
      if (!handle(std::span(request_).first(size)))
        request_.clear();  // garbled: where the next request starts is unknown
      else
        request_.erase(request_.begin(), request_.begin() + static_cast<std::ptrdiff_t>(size));
    }
    if (request_.size() > largest_frame)
      request_.clear();
    if (request_.empty())
      return;
    idle_.expires_after(request_timeout);
    idle_.async_wait([self = shared_from_this()](error_code error) {
      if (!error)
        self->request_.clear();
    });
  }

  // False where the checksum is wrong; such a request is never answered.
  bool handle(std::span<const std::uint8_t> frame) {
    const auto body = frame.first(frame.size() - 2);
    const std::uint16_t crc = modbus_crc(body);
    if (frame[frame.size() - 2] != (crc & 0xFF) || frame[frame.size() - 1] != crc >> 8)
      return false;
    auto answered = answer_(body[0], body.subspan(1));
    if (!answered || outbox_.is_full())
      return true;
    Pdu reply{body[0]};
    reply.insert(reply.end(), answered->pdu.begin(), answered->pdu.end());
    const std::uint16_t reply_crc = modbus_crc(reply);
    reply.push_back(static_cast<std::uint8_t>(reply_crc & 0xFF));
    reply.push_back(static_cast<std::uint8_t>(reply_crc >> 8));
    // Both frames on the wire, and the silence of 3.5 characters before each.
    const Duration wire = static_cast<int>(frame.size() + reply.size() + 7) * character_time;
    outbox_.send(shared_from_this(), std::move(reply), wire + answered->delay);
    return true;
  }

  asio::posix::stream_descriptor master_;
  int client_side_;  // held open, or reads fail whenever no client is there
  asio::steady_timer idle_;
  AnswerRequest answer_;
  std::array<std::uint8_t, largest_frame> chunk_{};
  Pdu request_;
  AnswerOutbox<asio::posix::stream_descriptor> outbox_{master_, most_answers_waiting};
};

class RtuSlave : public ModbusSlave {
 public:
  RtuSlave(std::shared_ptr<Line> line, std::string link)
      : line_(std::move(line)), link_(std::move(link)) {
    line_->start();
  }
  ~RtuSlave() override {
    line_->stop();
    ::unlink(link_.c_str());
  }
  [[nodiscard]] std::string address() const override { return link_; }

 private:
  std::shared_ptr<Line> line_;
  std::string link_;
};

Error failed(const char* what, const std::string& link) {
  return Error{fmt::format("Modbus RTU at {}: {}: {}", link, what, std::strerror(errno))};
}

Result<Done> put_link(const std::string& target, const std::string& link) {
  struct stat there {};
  if (::lstat(link.c_str(), &there) == 0) {
    if (!S_ISLNK(there.st_mode))
      return Error{
          fmt::format("Modbus RTU at {}: something that is no symbolic link stands there; "
                      "choose another path",
                      link)};
    ::unlink(link.c_str());
  }
  if (::symlink(target.c_str(), link.c_str()) != 0)
    return failed("cannot make the symbolic link", link);
  return Done{};
}

}  // namespace

std::uint16_t modbus_crc(std::span<const std::uint8_t> bytes) {
  unsigned crc = 0xFFFF;
  for (const std::uint8_t byte : bytes) {
    crc ^= byte;
    for (int i = 0; i < 8; ++i)
      crc = (crc & 1) != 0 ? crc >> 1 ^ 0xA001u : crc >> 1;
  }
  return static_cast<std::uint16_t>(crc);
}

Result<std::unique_ptr<ModbusSlave>> serve_modbus_rtu(asio::io_context& loop,
                                                      const std::string& link,
                                                      AnswerRequest answer) {
  const int descriptor = ::posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC);
  if (descriptor < 0)
    return failed("no pseudo-terminal", link);
  asio::posix::stream_descriptor master(loop, descriptor);
  std::array<char, 128> name{};
  if (::grantpt(descriptor) != 0 || ::unlockpt(descriptor) != 0 ||
      ::ptsname_r(descriptor, name.data(), name.size()) != 0)
    return failed("no pseudo-terminal", link);
  const int client_side = ::open(name.data(), O_RDWR | O_NOCTTY | O_CLOEXEC);
  if (client_side < 0)
    return failed("cannot open the pseudo-terminal", link);
  auto line = std::make_shared<Line>(std::move(master), client_side, std::move(answer));
  termios settings{};
  if (::tcgetattr(client_side, &settings) != 0)
    return failed("cannot set up the pseudo-terminal", link);
  ::cfmakeraw(&settings);
  if (::tcsetattr(client_side, TCSANOW, &settings) != 0)
    return failed("cannot set up the pseudo-terminal", link);
  if (const auto linked = put_link(name.data(), link); !linked.ok())
    return linked.error();
  return std::unique_ptr<ModbusSlave>(std::make_unique<RtuSlave>(std::move(line), link));
}

}  // namespace brinegate::sim
