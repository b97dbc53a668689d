// SPDX-License-Identifier: Apache-2.0
#include "sim/modbus_pdu.h"

#include <cstddef>

namespace brinegate::sim {
namespace {

using config::ModbusTable;
using Bytes = std::span<const std::uint8_t>;

constexpr std::size_t most_bits_read = 2000;
constexpr std::size_t most_words_read = 125;
constexpr std::size_t most_bits_written = 1968;
constexpr std::size_t most_words_written = 123;

std::uint16_t word_at(Bytes bytes, std::size_t i) {
  return static_cast<std::uint16_t>(bytes[i] << 8 | bytes[i + 1]);
}

void append_word(Pdu& pdu, std::uint16_t word) {
  pdu.push_back(static_cast<std::uint8_t>(word >> 8));
  pdu.push_back(static_cast<std::uint8_t>(word & 0xFF));
}

bool is_bit(ModbusTable table) {
  return table == ModbusTable::Coil || table == ModbusTable::Discrete;
}

std::optional<Pdu> answer_read(ModbusUnit& unit, ModbusTable table, Bytes request, MonoTime now) {
  const std::uint8_t function = request[0];
  if (request.size() != 5)
    return exception_answer(function, ModbusException::IllegalDataValue);
  const std::size_t first = word_at(request, 1);
  const std::size_t count = word_at(request, 3);
  if (count == 0 || count > (is_bit(table) ? most_bits_read : most_words_read))
    return exception_answer(function, ModbusException::IllegalDataValue);
  if (first + count > 0x10000)
    return exception_answer(function, ModbusException::IllegalDataAddress);

  Pdu pdu{function, 0};
  for (std::size_t i = 0; i < count; ++i) {
    const auto [access, value] = unit.read(table, static_cast<std::uint16_t>(first + i), now);
    if (access == Access::NoAnswer)
      return std::nullopt;
    if (access == Access::NoSuchAddress)
      return exception_answer(function, ModbusException::IllegalDataAddress);
    if (!is_bit(table)) {
      append_word(pdu, value);
      continue;
    }
    if (i % 8 == 0)
      pdu.push_back(0);
    if (value != 0)
      pdu.back() = static_cast<std::uint8_t>(pdu.back() | 1u << i % 8);
  }
  pdu[1] = static_cast<std::uint8_t>(pdu.size() - 2);
  return pdu;
}

Pdu answer_write_one(ModbusUnit& unit, ModbusTable table, Bytes request, MonoTime now) {
  const std::uint8_t function = request[0];
  if (request.size() != 5)
    return exception_answer(function, ModbusException::IllegalDataValue);
  const std::uint16_t address = word_at(request, 1);
  std::uint16_t value = word_at(request, 3);
  if (table == ModbusTable::Coil) {
    if (value != 0xFF00 && value != 0)
      return exception_answer(function, ModbusException::IllegalDataValue);
    value = value == 0 ? 0 : 1;
  }
  if (!unit.can_write(table, address))
    return exception_answer(function, ModbusException::IllegalDataAddress);
  unit.write(table, address, value, now);
  return {request.begin(), request.end()};
}

Pdu answer_write_many(ModbusUnit& unit, ModbusTable table, Bytes request, MonoTime now) {
  const std::uint8_t function = request[0];
  if (request.size() < 6)
    return exception_answer(function, ModbusException::IllegalDataValue);
  const std::size_t first = word_at(request, 1);
  const std::size_t count = word_at(request, 3);
  const std::size_t bytes = is_bit(table) ? (count + 7) / 8 : count * 2;
  if (count == 0 || count > (is_bit(table) ? most_bits_written : most_words_written) ||
      request[5] != bytes || request.size() != 6 + bytes)
    return exception_answer(function, ModbusException::IllegalDataValue);
  if (first + count > 0x10000)
    return exception_answer(function, ModbusException::IllegalDataAddress);
  for (std::size_t i = 0; i < count; ++i) {
    if (!unit.can_write(table, static_cast<std::uint16_t>(first + i)))
      return exception_answer(function, ModbusException::IllegalDataAddress);
  }
  for (std::size_t i = 0; i < count; ++i) {
    const std::uint16_t value = is_bit(table)
                                    ? static_cast<std::uint16_t>(request[6 + i / 8] >> i % 8 & 1)
                                    : word_at(request, 6 + 2 * i);
    unit.write(table, static_cast<std::uint16_t>(first + i), value, now);
  }
  return {request.begin(), request.begin() + 5};
}

}  // namespace

Pdu exception_answer(std::uint8_t function, ModbusException exception) {
  return {static_cast<std::uint8_t>(function | 0x80), static_cast<std::uint8_t>(exception)};
}

std::optional<Pdu> answer(ModbusUnit& unit, Bytes request, MonoTime now) {
  if (request.empty())
    return std::nullopt;
  switch (request[0]) {
    case 1:
      return answer_read(unit, ModbusTable::Coil, request, now);
    case 2:
      return answer_read(unit, ModbusTable::Discrete, request, now);
    case 3:
      return answer_read(unit, ModbusTable::Holding, request, now);
    case 4:
      return answer_read(unit, ModbusTable::Input, request, now);
    case 5:
      return answer_write_one(unit, ModbusTable::Coil, request, now);
    case 6:
      return answer_write_one(unit, ModbusTable::Holding, request, now);
    case 15:
      return answer_write_many(unit, ModbusTable::Coil, request, now);
    case 16:
      return answer_write_many(unit, ModbusTable::Holding, request, now);
    default:
      return exception_answer(request[0], ModbusException::IllegalFunction);
  }
}

}  // namespace brinegate::sim
