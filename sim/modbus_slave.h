// SPDX-License-Identifier: Apache-2.0
// Modbus slaves on real lines: TCP for several clients at once, RTU on a pseudo-terminal. Both ask
// a function what a unit answers, so they know neither rig nor clock.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <string>

#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>

#include "rules/result.h"
#include "sim/modbus_pdu.h"

namespace brinegate::sim {

struct DelayedAnswer {
  Pdu pdu;
  Duration delay;
};
// None: no such unit, or it stays silent.
using AnswerRequest = std::function<std::optional<DelayedAnswer>(
    std::uint8_t unit, std::span<const std::uint8_t> request)>;

// A running slave; ends when destroyed (before its io_context).
class ModbusSlave {
 public:
  virtual ~ModbusSlave() = default;
  // Where a client finds it: "127.0.0.1:1502" or a device path.
  [[nodiscard]] virtual std::string address() const = 0;
};

// A unit that is not there stays silent, as on a bus. At most 16 clients; port 0 takes a free one.
Result<std::unique_ptr<ModbusSlave>> serve_modbus_tcp(boost::asio::io_context& loop,
                                                      const boost::asio::ip::tcp::endpoint& listen,
                                                      AnswerRequest answer);

// Opens a pseudo-terminal and puts a symbolic link to its client side at `link`, replacing a link
// that stands there (and nothing else); takes the link away at the end. Answers take as long as at
// 19200 baud, 8E1.
Result<std::unique_ptr<ModbusSlave>> serve_modbus_rtu(boost::asio::io_context& loop,
                                                      const std::string& link,
                                                      AnswerRequest answer);

// CRC-16 of the serial line; sent low byte first.
std::uint16_t modbus_crc(std::span<const std::uint8_t> bytes);

}  // namespace brinegate::sim
