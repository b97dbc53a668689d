// SPDX-License-Identifier: Apache-2.0
// What a Modbus unit answers to one request, without any line: MODBUS Application Protocol V1.1b3.
// Own framing and not libmodbus's modbus_reply, because late and missing answers must not hold up
// other clients, and because an independent server finds what client and server would both get
// wrong.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "config/model.h"
#include "rules/time.h"

namespace brinegate::sim {

enum class ModbusException : std::uint8_t {
  IllegalFunction = 1,
  IllegalDataAddress = 2,
  IllegalDataValue = 3,
  DeviceFailure = 4,
};

enum class Access {
  NoAnswer,  // what should measure it is silent: the whole request stays unanswered
  NoSuchAddress,
  Done,
};

struct RegisterValue {
  Access access = Access::NoSuchAddress;
  std::uint16_t value = 0;  // a bit is 0 or 1
};

inline RegisterValue single_bit(bool on) {
  return {Access::Done, static_cast<std::uint16_t>(on ? 1 : 0)};
}

// One unit on a line: its tables, address by address, zero-based as on the wire.
class ModbusUnit {
 public:
  virtual ~ModbusUnit() = default;
  [[nodiscard]] virtual RegisterValue read(config::ModbusTable table, std::uint16_t address,
                                           MonoTime now) const = 0;
  // Coils (0 or 1) and holding registers only. All or nothing is not promised across addresses,
  // but answer() asks can_write() for each before it writes the first.
  [[nodiscard]] virtual bool can_write(config::ModbusTable table, std::uint16_t address) const = 0;
  virtual void write(config::ModbusTable table, std::uint16_t address, std::uint16_t value,
                     MonoTime now) = 0;
};

using Pdu = std::vector<std::uint8_t>;

Pdu exception_answer(std::uint8_t function, ModbusException exception);

// The answer to a request (function code and what follows it); none where the unit stays silent.
std::optional<Pdu> answer(ModbusUnit& unit, std::span<const std::uint8_t> request, MonoTime now);

}  // namespace brinegate::sim
