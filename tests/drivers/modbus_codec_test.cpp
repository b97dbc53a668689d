// SPDX-License-Identifier: Apache-2.0
#include "drivers/modbus_codec.h"

#include <array>
#include <bit>
#include <cmath>
#include <limits>

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

namespace brinegate::drivers {
namespace {

using config::ByteOrder;
using config::ModbusEncoding;
using Words = std::vector<std::uint16_t>;

struct FloatOnTheWire {
  double value;
  Words abcd, cdab, badc, dcba;
};

// The bytes follow from IEEE 754 binary32; 123456.0 with its four orders is the example value of
// libmodbus' own manual pages.
const std::array<FloatOnTheWire, 4> floats{{
    {53.0, {0x4254, 0x0000}, {0x0000, 0x4254}, {0x5442, 0x0000}, {0x0000, 0x5442}},
    {35.0, {0x420C, 0x0000}, {0x0000, 0x420C}, {0x0C42, 0x0000}, {0x0000, 0x0C42}},
    {25.0, {0x41C8, 0x0000}, {0x0000, 0x41C8}, {0xC841, 0x0000}, {0x0000, 0xC841}},
    {123456.0, {0x47F1, 0x2000}, {0x2000, 0x47F1}, {0xF147, 0x0020}, {0x0020, 0xF147}},
}};

TEST(ModbusCodec, ReadsAndWritesFloatsInEveryByteOrder) {
  for (const auto& row : floats) {
    const std::array<std::pair<ByteOrder, Words>, 4> orders{{{ByteOrder::ABCD, row.abcd},
                                                             {ByteOrder::CDAB, row.cdab},
                                                             {ByteOrder::BADC, row.badc},
                                                             {ByteOrder::DCBA, row.dcba}}};
    for (const auto& [order, words] : orders) {
      const auto read = decode(ModbusEncoding::Float32, order, words);
      ASSERT_TRUE(read.ok());
      EXPECT_EQ(*read, row.value);
      EXPECT_EQ(encode(ModbusEncoding::Float32, order, row.value), words);
    }
  }
}

// Computed by hand from IEEE 754: 53.065 = 42 54 42 8F; its words swapped are 42 8F 42 54 = 71.63.
TEST(ModbusCodec, AWrongWordOrderLooksLikeAnotherPlausibleNumber) {
  const auto read = decode(ModbusEncoding::Float32, ByteOrder::CDAB, Words{0x4254, 0x428F});
  ASSERT_TRUE(read.ok());
  EXPECT_NEAR(*read, 71.63, 0.005);
}

TEST(ModbusCodec, ReadsIntegersWithTheirSign) {
  const auto value = [](ModbusEncoding encoding, const Words& words) {
    return decode(encoding, ByteOrder::ABCD, words).value();
  };
  EXPECT_EQ(value(ModbusEncoding::UInt16, {0xFFFE}), 65534.0);
  EXPECT_EQ(value(ModbusEncoding::Int16, {0xFFFE}), -2.0);
  EXPECT_EQ(value(ModbusEncoding::UInt32, {0xFFFF, 0xFFFE}), 4294967294.0);
  EXPECT_EQ(value(ModbusEncoding::Int32, {0xFFFF, 0xFFFE}), -2.0);
  EXPECT_EQ(value(ModbusEncoding::Bit, {1}), 1.0);
}

TEST(ModbusCodec, RefusesWhatIsNoNumber) {
  const auto fault = [](ModbusEncoding encoding, const Words& words) {
    const auto read = decode(encoding, ByteOrder::ABCD, words);
    return read.ok() ? SampleFault::None : read.error();
  };
  EXPECT_EQ(fault(ModbusEncoding::Float32, {0x7FC0, 0x0000}), SampleFault::BadAnswer);  // NaN
  EXPECT_EQ(fault(ModbusEncoding::Float32, {0x7F80, 0x0000}), SampleFault::BadAnswer);  // +Inf
  EXPECT_EQ(fault(ModbusEncoding::Float32, {0xFF80, 0x0000}), SampleFault::BadAnswer);  // -Inf
  EXPECT_EQ(fault(ModbusEncoding::Float32, {0x4254}), SampleFault::BadAnswer);
  EXPECT_EQ(fault(ModbusEncoding::UInt16, {1, 2}), SampleFault::BadAnswer);
  EXPECT_EQ(fault(ModbusEncoding::Bit, {2}), SampleFault::BadAnswer);
}

TEST(ModbusCodec, ClampsToWhatTheEncodingHolds) {
  EXPECT_EQ(encode(ModbusEncoding::UInt16, ByteOrder::ABCD, -1.0), Words{0});
  EXPECT_EQ(encode(ModbusEncoding::Int16, ByteOrder::ABCD, 1e9), Words{0x7FFF});
  EXPECT_EQ(encode(ModbusEncoding::UInt32, ByteOrder::CDAB, 1e12), (Words{0xFFFF, 0xFFFF}));
}

RC_GTEST_PROP(ModbusCodec, EveryFiniteFloatSurvivesTheRoundTripInEveryOrder, (std::uint32_t bits)) {
  const auto value = std::bit_cast<float>(bits);
  RC_PRE(std::isfinite(value));
  for (const auto order : {ByteOrder::ABCD, ByteOrder::CDAB, ByteOrder::BADC, ByteOrder::DCBA}) {
    const auto words = encode(ModbusEncoding::Float32, order, double{value});
    RC_ASSERT(decode(ModbusEncoding::Float32, order, words).value() == double{value});
  }
}

RC_GTEST_PROP(ModbusCodec, EveryInteger32SurvivesTheRoundTripInEveryOrder, (std::int32_t value)) {
  for (const auto order : {ByteOrder::ABCD, ByteOrder::CDAB, ByteOrder::BADC, ByteOrder::DCBA}) {
    const auto words = encode(ModbusEncoding::Int32, order, static_cast<double>(value));
    RC_ASSERT(decode(ModbusEncoding::Int32, order, words).value() == static_cast<double>(value));
  }
}

}  // namespace
}  // namespace brinegate::drivers
