// SPDX-License-Identifier: Apache-2.0
// What two numbers that disagree give away.
#include "config/likely_cause.h"

#include <bit>
#include <cstdint>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace brinegate::config {
namespace {

using ::testing::HasSubstr;

std::string cause_of(const ProbeSpec& probe, const SourceAddress& source, double raw, double shown,
                     std::optional<Celsius> water = std::nullopt) {
  Comparison compared;
  compared.measures = probe.measures;
  compared.raw = raw;
  compared.point = {shown, converted(probe.conversion, raw), {}};
  return likely_cause(probe, source, compared, water);
}

ProbeSpec probe_of(Measures measures) {
  ProbeSpec probe;
  probe.measures = measures;
  return probe;
}

ModbusSource float_in(ByteOrder order) {
  ModbusSource source;
  source.encoding = ModbusEncoding::Float32;
  source.order = order;
  return source;
}

double float_of(std::uint32_t bits) {
  return std::bit_cast<float>(bits);
}

// 53.0 is 42 54 00 00 (IEEE 754); see the table in config/README.md.
TEST(LikelyCause, NamesTheOrderThatTheBytesAreIn) {
  const ProbeSpec cell = probe_of(Measures::Conductivity);
  EXPECT_THAT(cause_of(cell, float_in(ByteOrder::CDAB), float_of(0x00004254), 53.0),
              HasSubstr("\"ABCD\""));
  EXPECT_THAT(cause_of(cell, float_in(ByteOrder::ABCD), float_of(0x00004254), 53.0),
              HasSubstr("\"CDAB\""));
  EXPECT_THAT(cause_of(cell, float_in(ByteOrder::ABCD), float_of(0x54420000), 53.0),
              HasSubstr("\"BADC\""));
  EXPECT_THAT(cause_of(cell, float_in(ByteOrder::CDAB), float_of(0x54420000), 53.0),
              HasSubstr("\"DCBA\""));
}

TEST(LikelyCause, NamesTheOrderOfAWholeNumber) {
  ProbeSpec cell = probe_of(Measures::Conductivity);
  cell.conversion.scale = 0.001;
  ModbusSource source = float_in(ByteOrder::ABCD);
  source.encoding = ModbusEncoding::UInt32;
  const double swapped = 53065.0 * 65536.0;
  EXPECT_THAT(cause_of(cell, source, swapped, 53.065), HasSubstr("\"CDAB\""));
}

TEST(LikelyCause, NamesAScaleThatIsOffByPowersOfTen) {
  const ProbeSpec cell = probe_of(Measures::Conductivity);
  EXPECT_THAT(cause_of(cell, ModbusSource{}, 530.0, 53.0), HasSubstr("10 times too large"));
  EXPECT_THAT(cause_of(cell, ModbusSource{}, 0.053, 53.0), HasSubstr("1000 times too small"));
}

TEST(LikelyCause, NamesDegreesThatAreOthers) {
  const ProbeSpec bath = probe_of(Measures::Temperature);
  EXPECT_THAT(cause_of(bath, ModbusSource{}, 77.0, 25.0), HasSubstr("\"F\""));
  EXPECT_THAT(cause_of(bath, ModbusSource{}, 298.15, 25.0), HasSubstr("\"K\""));
  EXPECT_THAT(cause_of(bath, ModbusSource{}, (25.0 - 32.0) / 1.8, 25.0), HasSubstr("\"C\""));
}

// 50 mS/cm at 35 °C are 41.67 mS/cm at 25 °C with 2 % per °C.
TEST(LikelyCause, NamesACompensationThatOnlyOneOfTheTwoHas) {
  const Celsius warm(35.0);
  EXPECT_THAT(cause_of(probe_of(Measures::Conductivity), ModbusSource{}, 50.0, 50.0 / 1.2, warm),
              HasSubstr("the register does not"));
  EXPECT_THAT(
      cause_of(probe_of(Measures::CompensatedConductivity), ModbusSource{}, 50.0 / 1.2, 50.0, warm),
      HasSubstr("the display does not"));
}

TEST(LikelyCause, NamesARegisterThatHoldsNothing) {
  EXPECT_THAT(cause_of(probe_of(Measures::Level), ModbusSource{}, 0.0, 150.0),
              HasSubstr("exactly zero"));
}

TEST(LikelyCause, SaysNothingWhereTheNumbersDoNot) {
  EXPECT_EQ(cause_of(probe_of(Measures::Conductivity), float_in(ByteOrder::ABCD), 47.0, 53.0), "");
}

}  // namespace
}  // namespace brinegate::config
