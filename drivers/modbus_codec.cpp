// SPDX-License-Identifier: Apache-2.0
#include "drivers/modbus_codec.h"

#include <algorithm>
#include <bit>
#include <cmath>
#include <limits>

namespace brinegate::drivers {

using config::ByteOrder;
using config::ModbusEncoding;

namespace {

constexpr std::uint16_t swapped(std::uint16_t word) {
  return static_cast<std::uint16_t>((word << 8U) | (word >> 8U));
}

constexpr bool words_swapped(ByteOrder order) {
  return order == ByteOrder::CDAB || order == ByteOrder::DCBA;
}

constexpr bool bytes_swapped(ByteOrder order) {
  return order == ByteOrder::BADC || order == ByteOrder::DCBA;
}

std::uint32_t join(ByteOrder order, std::span<const std::uint16_t> registers) {
  std::uint16_t high = registers[words_swapped(order) ? 1 : 0];
  std::uint16_t low = registers[words_swapped(order) ? 0 : 1];
  if (bytes_swapped(order)) {
    high = swapped(high);
    low = swapped(low);
  }
  return (std::uint32_t{high} << 16U) | low;
}

std::vector<std::uint16_t> split(ByteOrder order, std::uint32_t bits) {
  auto high = static_cast<std::uint16_t>(bits >> 16U);
  auto low = static_cast<std::uint16_t>(bits & 0xFFFFU);
  if (bytes_swapped(order)) {
    high = swapped(high);
    low = swapped(low);
  }
  if (words_swapped(order)) {
    return {low, high};
  }
  return {high, low};
}

template <class Integer>
Integer rounded(double value) {
  const double low = std::numeric_limits<Integer>::min();
  const double high = std::numeric_limits<Integer>::max();
  return static_cast<Integer>(std::clamp(std::round(value), low, high));
}

}  // namespace

std::size_t register_count(ModbusEncoding encoding) {
  switch (encoding) {
    case ModbusEncoding::Bit:
    case ModbusEncoding::UInt16:
    case ModbusEncoding::Int16:
      return 1;
    case ModbusEncoding::UInt32:
    case ModbusEncoding::Int32:
    case ModbusEncoding::Float32:
      return 2;
  }
  return 0;
}

Result<double, SampleFault> decode(ModbusEncoding encoding, ByteOrder order,
                                   std::span<const std::uint16_t> registers) {
  if (registers.size() != register_count(encoding)) {
    return SampleFault::BadAnswer;
  }
  switch (encoding) {
    case ModbusEncoding::Bit:
      if (registers[0] > 1) {
        return SampleFault::BadAnswer;
      }
      return static_cast<double>(registers[0]);
    case ModbusEncoding::UInt16:
      return static_cast<double>(registers[0]);
    case ModbusEncoding::Int16:
      return static_cast<double>(std::bit_cast<std::int16_t>(registers[0]));
    case ModbusEncoding::UInt32:
      return static_cast<double>(join(order, registers));
    case ModbusEncoding::Int32:
      return static_cast<double>(std::bit_cast<std::int32_t>(join(order, registers)));
    case ModbusEncoding::Float32: {
      const auto value = std::bit_cast<float>(join(order, registers));
      if (!std::isfinite(value)) {
        return SampleFault::BadAnswer;
      }
      return static_cast<double>(value);
    }
  }
  return SampleFault::BadAnswer;
}

std::vector<std::uint16_t> encode(ModbusEncoding encoding, ByteOrder order, double value) {
  switch (encoding) {
    case ModbusEncoding::Bit:
      return {static_cast<std::uint16_t>(value != 0.0 ? 1 : 0)};
    case ModbusEncoding::UInt16:
      return {rounded<std::uint16_t>(value)};
    case ModbusEncoding::Int16:
      return {std::bit_cast<std::uint16_t>(rounded<std::int16_t>(value))};
    case ModbusEncoding::UInt32:
      return split(order, rounded<std::uint32_t>(value));
    case ModbusEncoding::Int32:
      return split(order, std::bit_cast<std::uint32_t>(rounded<std::int32_t>(value)));
    case ModbusEncoding::Float32:
      return split(order, std::bit_cast<std::uint32_t>(static_cast<float>(value)));
  }
  return {};
}

}  // namespace brinegate::drivers
