// SPDX-License-Identifier: Apache-2.0
#include "config/likely_cause.h"

#include <array>
#include <bit>
#include <cmath>
#include <cstdint>
#include <string_view>

#include <fmt/format.h>

#include "config/measured.h"
#include "rules/seawater.h"
#include "rules/verification.h"

namespace brinegate::config {
namespace {

bool explains(const Comparison& compared, double candidate) {
  return std::abs(candidate - compared.point.shown) <=
         agreement(compared.measures, compared.point.shown);
}

// Which byte of the value stands where on the wire; each undoes itself.
struct Order {
  std::string_view word;
  std::array<unsigned, 4> bytes;
};
constexpr std::array<Order, 4> orders{{{"ABCD", {0, 1, 2, 3}},
                                       {"CDAB", {2, 3, 0, 1}},
                                       {"BADC", {1, 0, 3, 2}},
                                       {"DCBA", {3, 2, 1, 0}}}};

std::uint32_t byte_of(std::uint32_t bits, unsigned index) {
  return bits >> (8 * (3 - index)) & 0xffU;
}

std::uint32_t bits_of(ModbusEncoding encoding, double raw) {
  if (encoding == ModbusEncoding::Float32)
    return std::bit_cast<std::uint32_t>(static_cast<float>(raw));
  return static_cast<std::uint32_t>(static_cast<std::int64_t>(raw));
}

double value_of(ModbusEncoding encoding, std::uint32_t bits) {
  if (encoding == ModbusEncoding::Float32)
    return std::bit_cast<float>(bits);
  return encoding == ModbusEncoding::Int32 ? static_cast<double>(static_cast<std::int32_t>(bits))
                                           : static_cast<double>(bits);
}

std::string other_order(const ProbeSpec& probe, const SourceAddress& source,
                        const Comparison& compared) {
  const auto* modbus = std::get_if<ModbusSource>(&source);
  const bool is_wide = modbus != nullptr && modbus->encoding >= ModbusEncoding::UInt32;
  if (!is_wide)
    return "";
  const std::uint32_t bits = bits_of(modbus->encoding, compared.raw);
  const Order& configured = orders[static_cast<std::size_t>(modbus->order)];
  for (const Order& order : orders) {
    std::uint32_t reordered = 0;
    for (unsigned i = 0; i < 4; ++i)
      reordered |= byte_of(bits, configured.bytes[i]) << (8 * (3 - order.bytes[i]));
    if (order.word != configured.word &&
        explains(compared, converted(probe.conversion, value_of(modbus->encoding, reordered))))
      return fmt::format("The order of the bytes is another: write order = \"{}\".", order.word);
  }
  return "";
}

std::string power_of_ten(const Comparison& compared) {
  for (const double factor : {10.0, 100.0, 1000.0}) {
    if (explains(compared, compared.point.read / factor))
      return fmt::format("What is read is {:.0f} times too large: correct 'scale' or 'in'.",
                         factor);
    if (explains(compared, compared.point.read * factor))
      return fmt::format("What is read is {:.0f} times too small: correct 'scale' or 'in'.",
                         factor);
  }
  return "";
}

std::string other_degrees(const Comparison& compared) {
  if (compared.measures != Measures::Temperature)
    return "";
  const double read = compared.point.read;
  if (explains(compared, (read - 32.0) / 1.8))
    return "The number arrives in °F: write in = \"F\".";
  if (explains(compared, read * 1.8 + 32.0))
    return "The number arrives in °C: write in = \"C\".";
  if (explains(compared, read - 273.15))
    return "The number arrives in kelvin: write in = \"K\".";
  return "";
}

std::string compensation(const ProbeSpec& probe, const Comparison& compared,
                         std::optional<Celsius> water) {
  const MilliSiemensPerCm read(compared.point.read);
  if (!water)
    return "";
  if (compared.measures == Measures::Conductivity &&
      explains(compared, compensated(read, *water, probe.compensation).value()))
    return "The display compensates for temperature and the register does not: read the display "
           "without compensation.";
  if (compared.measures == Measures::CompensatedConductivity &&
      explains(compared, uncompensated(read, *water, probe.compensation).value()))
    return "The register compensates for temperature and the display does not: read the display "
           "with compensation.";
  return "";
}

}  // namespace

std::string likely_cause(const ProbeSpec& probe, const SourceAddress& source,
                         const Comparison& compared, std::optional<Celsius> water) {
  if (is_contact(compared.measures))
    return "The polarity or the address is wrong: correct 'closed_means' or the register.";
  if (compared.raw == 0.0)
    return "The register holds exactly zero: its address, table or unit is probably wrong; some "
           "data sheets count from 1.";
  for (std::string cause : {other_degrees(compared), compensation(probe, compared, water),
                            power_of_ten(compared), other_order(probe, source, compared)})
    if (!cause.empty())
      return cause;
  return "";
}

}  // namespace brinegate::config
