// SPDX-License-Identifier: Apache-2.0
#include "drivers/modbus_bus.h"

#include <algorithm>
#include <array>
#include <cerrno>
#include <string>
#include <thread>

#include <fcntl.h>
#include <modbus.h>
#include <poll.h>
#include <sys/file.h>
#include <sys/ioctl.h>
#include <sys/select.h>
#include <sys/socket.h>
#include <unistd.h>

#include "drivers/clock.h"

namespace brinegate::drivers {

using config::ModbusTable;

class ModbusBus::Context {
 public:
  explicit Context(const config::Link& link) : modbus_(make(link)) {
    if (modbus_ == nullptr) {
      return;
    }
    const auto us = std::chrono::duration_cast<std::chrono::microseconds>(link.timeout).count();
    modbus_set_response_timeout(modbus_, static_cast<std::uint32_t>(us / 1'000'000),
                                static_cast<std::uint32_t>(us % 1'000'000));
    // 0: the response timeout is the deadline of the whole answer; otherwise a slow sender has a
    // fresh timeout for each byte.
    modbus_set_byte_timeout(modbus_, 0, 0);
    // Anything else may send an old request again when the link returns.
    modbus_set_error_recovery(modbus_, MODBUS_ERROR_RECOVERY_NONE);
  }
  ~Context() {
    if (modbus_ != nullptr) {
      modbus_free(modbus_);
    }
  }
  Context(const Context&) = delete;
  Context& operator=(const Context&) = delete;

  [[nodiscard]] modbus_t* get() const { return modbus_; }

 private:
  static modbus_t* make(const config::Link& link) {
    if (const auto* tcp = std::get_if<config::TcpAddress>(&link.address)) {
      // The _pi form: modbus_new_tcp takes a name without complaint and connects elsewhere.
      return modbus_new_tcp_pi(tcp->host.c_str(), std::to_string(tcp->port).c_str());
    }
    const auto& serial = std::get<config::SerialAddress>(link.address);
    const char parity = serial.parity == config::Parity::Even  ? 'E'
                        : serial.parity == config::Parity::Odd ? 'O'
                                                               : 'N';
    return modbus_new_rtu(serial.device.c_str(), serial.baud, parity, 8, serial.stop_bits);
  }

  modbus_t* modbus_;
};

namespace {

// libmodbus waits with select(), which ends the process for a descriptor it cannot hold. The next
// descriptor is the lowest free one; the margin is for those that other threads open meanwhile.
bool descriptors_left_for_select() {
  constexpr int margin = 64;
  const int probe = ::open("/dev/null", O_RDONLY | O_CLOEXEC);
  if (probe < 0) {
    return false;
  }
  ::close(probe);
  return probe < FD_SETSIZE - margin;
}

// Closing must throw away what the kernel has not sent yet: after a cable was out, an "on" still in
// the send buffer would otherwise be delivered minutes later, by a kernel that outlives the close.
void discard_unsent_on_close(int socket) {
  const linger abort_on_close{1, 0};
  ::setsockopt(socket, SOL_SOCKET, SO_LINGER, &abort_on_close, sizeof abort_on_close);
}

// Two masters on one serial bus take each other's answers. The lock keeps out another daemon of
// ours, the exclusive mode every other program but root's; both end with the descriptor.
bool claim(int descriptor) {
  ::ioctl(descriptor, TIOCEXCL);
  return ::flock(descriptor, LOCK_EX | LOCK_NB) == 0;
}

SampleFault fault_of(int error) {
  if (error > MODBUS_ENOBASE && error <= EMBXGTAR) {
    return SampleFault::DeviceException;
  }
  if (error >= EMBBADCRC && error <= EMBBADSLAVE) {
    return SampleFault::BadAnswer;
  }
  if (error == ETIMEDOUT) {
    return SampleFault::Timeout;
  }
  return SampleFault::NotConnected;
}

// 3.5 characters of silence part two frames; above 19200 baud the serial line guide fixes 1.75 ms.
// libmodbus keeps none.
Duration frame_gap_of(const config::SerialAddress& serial) {
  if (serial.baud > 19200) {
    return std::chrono::microseconds(1750);
  }
  const int bits = 9 + serial.stop_bits + (serial.parity == config::Parity::None ? 0 : 1);
  return from_seconds(3.5 * bits / std::max(serial.baud, 1));
}

}  // namespace

ModbusBus::ModbusBus(const config::Link& link)
    : link_(link),
      serial_(std::holds_alternative<config::SerialAddress>(link.address)),
      context_(std::make_unique<Context>(link)) {
  if (serial_) {
    frame_gap_ = frame_gap_of(std::get<config::SerialAddress>(link.address));
  }
}

ModbusBus::~ModbusBus() {
  disconnect();
}

bool ModbusBus::connect() {
  disconnect();
  if (context_->get() == nullptr || !descriptors_left_for_select()) {
    errno = EMFILE;
    return false;
  }
  if (modbus_connect(context_->get()) != 0) {
    return false;
  }
  connected_ = true;
  answered_ = false;
  if (!serial_) {
    discard_unsent_on_close(modbus_get_socket(context_->get()));
    return true;
  }
  if (!claim(modbus_get_socket(context_->get()))) {
    const int why = errno;
    disconnect();
    errno = why;
    return false;
  }
  if (failures_ > 0) {
    out_of_step_ = true;  // the device answers into a reopened port too
  }
  return true;
}

void ModbusBus::disconnect() {
  if (connected_) {
    modbus_close(context_->get());
  }
  connected_ = false;
  out_of_step_ = false;
}

bool ModbusBus::discard_input(Duration silent_for, Duration at_most,
                              const std::function<bool()>& stop) {
  constexpr int slice_ms = 10;
  const int descriptor = modbus_get_socket(context_->get());
  const MonoTime begin = monotonic_now();
  MonoTime silent_since = begin;
  for (MonoTime now = begin; now - silent_since < silent_for; now = monotonic_now()) {
    if (now - begin > at_most || stop()) {
      return false;
    }
    pollfd waiting{descriptor, POLLIN, 0};
    if (::poll(&waiting, 1, slice_ms) <= 0) {
      continue;
    }
    std::array<char, 256> discarded{};
    const ssize_t got = ::read(descriptor, discarded.data(), discarded.size());
    if (got < 0 && errno != EAGAIN && errno != EINTR) {
      disconnect();
      return false;
    }
    if (got == 0 || (waiting.revents & (POLLERR | POLLHUP | POLLNVAL)) != 0) {
      disconnect();
      return false;
    }
    silent_since = monotonic_now();
  }
  return true;
}

bool ModbusBus::stays_silent(Duration duration) const {
  pollfd waiting{modbus_get_socket(context_->get()), POLLIN, 0};
  const auto ms = std::chrono::ceil<std::chrono::milliseconds>(duration).count();
  return ::poll(&waiting, 1, static_cast<int>(ms)) == 0;
}

bool ModbusBus::resynchronise(const std::function<bool()>& interrupted) {
  if (!connected_) {
    return false;
  }
  if (out_of_step_) {
    constexpr int longest = 4;
    const Duration silence = link_.timeout * 2 * std::min(std::max(failures_, 1), longest);
    if (!discard_input(silence, 5 * silence, interrupted)) {
      return false;
    }
    out_of_step_ = false;
    unconfirmed_ = true;
  }
  return true;
}

void ModbusBus::keep_frame_gap() const {
  const Duration left = last_traffic_ + frame_gap_ - monotonic_now();
  if (serial_ && left > Duration::zero()) {
    std::this_thread::sleep_for(left);
  }
}

SampleFault ModbusBus::prepare(std::uint8_t unit) {
  if (!connected_) {
    return SampleFault::NotConnected;
  }
  if (modbus_set_slave(context_->get(), unit) != 0) {
    return SampleFault::BadAnswer;
  }
  keep_frame_gap();
  modbus_flush(context_->get());
  return SampleFault::None;
}

SampleFault ModbusBus::finish(bool answered) {
  const int error = errno;
  last_traffic_ = monotonic_now();
  if (!answered) {
    return fail(error);
  }
  if (unconfirmed_) {
    // The silence of one timeout proves that nothing else was under way (see the class).
    if (!stays_silent(link_.timeout)) {
      return fail(EMBBADDATA);
    }
    unconfirmed_ = false;
  }
  constexpr int run_of_good_answers = 3;
  if (++good_answers_ >= run_of_good_answers) {
    failures_ = 0;
  }
  answered_ = true;
  return SampleFault::None;
}

SampleFault ModbusBus::fail(int error) {
  const SampleFault fault = fault_of(error);
  if (fault == SampleFault::DeviceException) {
    answered_ = true;
    last_exception_ = error - MODBUS_ENOBASE;
    return fault;  // an answer, and the right one
  }
  ++failures_;
  good_answers_ = 0;
  if (!serial_ || fault == SampleFault::NotConnected) {
    disconnect();
  } else {
    out_of_step_ = true;
  }
  return fault;
}

ModbusBus::Words ModbusBus::read(std::uint8_t unit, ModbusTable table, std::uint16_t address,
                                 std::uint16_t count) {
  if (const SampleFault fault = prepare(unit); fault != SampleFault::None) {
    return fault;
  }
  modbus_t* modbus = context_->get();
  std::vector<std::uint16_t> words(count);
  std::vector<std::uint8_t> bits(count);
  int got = -1;
  errno = 0;
  switch (table) {
    case ModbusTable::Coil:
      got = modbus_read_bits(modbus, address, count, bits.data());
      break;
    case ModbusTable::Discrete:
      got = modbus_read_input_bits(modbus, address, count, bits.data());
      break;
    case ModbusTable::Input:
      got = modbus_read_input_registers(modbus, address, count, words.data());
      break;
    case ModbusTable::Holding:
      got = modbus_read_registers(modbus, address, count, words.data());
      break;
  }
  if (const SampleFault fault = finish(got == count); fault != SampleFault::None) {
    return fault;
  }
  if (table == ModbusTable::Coil || table == ModbusTable::Discrete) {
    std::copy(bits.begin(), bits.end(), words.begin());
  }
  return words;
}

SampleFault ModbusBus::write_coil(std::uint8_t unit, std::uint16_t address, bool on) {
  if (const SampleFault fault = prepare(unit); fault != SampleFault::None) {
    return fault;
  }
  errno = 0;
  return finish(modbus_write_bit(context_->get(), address, on ? 1 : 0) == 1);
}

SampleFault ModbusBus::write_register(std::uint8_t unit, std::uint16_t address,
                                      std::uint16_t value) {
  if (const SampleFault fault = prepare(unit); fault != SampleFault::None) {
    return fault;
  }
  errno = 0;
  return finish(modbus_write_register(context_->get(), address, value) == 1);
}

}  // namespace brinegate::drivers
