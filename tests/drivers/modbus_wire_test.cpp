// SPDX-License-Identifier: Apache-2.0
// What our bus puts on the wire, byte by byte, against the examples of the MODBUS Application
// Protocol Specification V1.1b3 (sections 6.1 to 6.6 and 7). Serial frames: the same PDUs for unit
// 0x11 with their CRC-16, computed apart.
#include <functional>
#include <string>

#include <gtest/gtest.h>

#include "drivers/modbus_bus.h"
#include "tests/drivers/scripted_peer.h"

namespace brinegate::drivers {
namespace {

using namespace std::chrono_literals;
using config::ModbusTable;
using Medium = ScriptedPeer::Medium;
using Words = std::vector<std::uint16_t>;

constexpr std::uint8_t unit = 0x11;

struct Example {
  std::string request_pdu;
  std::string request_frame;
  std::string answer_pdu;
  std::function<void(ModbusBus&)> exchange;
};

Words read_of(ModbusBus& bus, ModbusTable table, std::uint16_t address, std::uint16_t count) {
  const auto words = bus.read(unit, table, address, count);
  return words ? *words : Words{};
}

std::vector<Example> examples() {
  return {
      {"01 0013 0013", "11 01 00 13 00 13 8E 92", "01 03 CD6B05",
       [](ModbusBus& bus) {
         EXPECT_EQ(read_of(bus, ModbusTable::Coil, 0x13, 0x13),
                   (Words{1, 0, 1, 1, 0, 0, 1, 1, 1, 1, 0, 1, 0, 1, 1, 0, 1, 0, 1}));
       }},
      {"02 00C4 0016", "11 02 00 C4 00 16 BA A9", "02 03 ACDB35",
       [](ModbusBus& bus) {
         EXPECT_EQ(read_of(bus, ModbusTable::Discrete, 0xC4, 0x16),
                   (Words{0, 0, 1, 1, 0, 1, 0, 1, 1, 1, 0, 1, 1, 0, 1, 1, 1, 0, 1, 0, 1, 1}));
       }},
      {"03 006B 0003", "11 03 00 6B 00 03 76 87", "03 06 022B 0000 0064",
       [](ModbusBus& bus) {
         EXPECT_EQ(read_of(bus, ModbusTable::Holding, 0x6B, 3), (Words{555, 0, 100}));
       }},
      {"04 0008 0001", "11 04 00 08 00 01 B2 98", "04 02 000A",
       [](ModbusBus& bus) { EXPECT_EQ(read_of(bus, ModbusTable::Input, 8, 1), Words{10}); }},
      {"05 00AC FF00", "11 05 00 AC FF 00 4E 8B", "05 00AC FF00",
       [](ModbusBus& bus) { EXPECT_EQ(bus.write_coil(unit, 0xAC, true), SampleFault::None); }},
      {"06 0001 0003", "11 06 00 01 00 03 9A 9B", "06 0001 0003",
       [](ModbusBus& bus) { EXPECT_EQ(bus.write_register(unit, 1, 3), SampleFault::None); }},
      {"01 04A1 0001", "11 01 04 A1 00 01 AF 88", "81 02",
       [](ModbusBus& bus) {
         const auto words = bus.read(unit, ModbusTable::Coil, 0x04A1, 1);
         ASSERT_FALSE(words.ok());
         EXPECT_EQ(words.error(), SampleFault::DeviceException);
         EXPECT_FALSE(bus.out_of_step());
       }},
  };
}

TEST(ModbusWire, SpeaksTheExamplesOfTheSpecificationOverTcp) {
  for (const Example& example : examples()) {
    ScriptedPeer peer(Medium::Tcp, [&](const SeenRequest&) {
      return ScriptedAnswer{from_hex(example.answer_pdu)};
    });
    ModbusBus bus(peer.link(1s));
    ASSERT_TRUE(bus.connect());
    example.exchange(bus);
    ASSERT_EQ(peer.requests().size(), 1U) << example.request_pdu;
    const SeenRequest seen = peer.requests().front();
    EXPECT_EQ(seen.pdu, from_hex(example.request_pdu));
    EXPECT_EQ(seen.unit, unit);
    // MBAP header: protocol 0, and the length counts the unit and the PDU.
    const Bytes header(seen.frame.begin() + 2, seen.frame.begin() + 6);
    EXPECT_EQ(header, (Bytes{0, 0, 0, static_cast<std::uint8_t>(seen.pdu.size() + 1)}));
  }
}

TEST(ModbusWire, SpeaksTheExamplesOfTheSpecificationOverASerialLine) {
  for (const Example& example : examples()) {
    ScriptedPeer peer(Medium::Serial, [&](const SeenRequest&) {
      return ScriptedAnswer{from_hex(example.answer_pdu)};
    });
    ModbusBus bus(peer.link(1s));
    ASSERT_TRUE(bus.connect());
    example.exchange(bus);
    ASSERT_EQ(peer.requests().size(), 1U) << example.request_pdu;
    EXPECT_EQ(peer.requests().front().frame, from_hex(example.request_frame));
  }
}

// The peer's own checksum, so that two equal mistakes cannot agree: the check value of
// CRC-16/MODBUS for "123456789" is 4B37.
TEST(ModbusWire, ThePeersChecksumIsTheStandardOne) {
  EXPECT_EQ(crc16({'1', '2', '3', '4', '5', '6', '7', '8', '9'}), 0x4B37);
}

TEST(ModbusWire, GarbledAndForeignAnswersAreBad) {
  for (const Medium medium : {Medium::Tcp, Medium::Serial}) {
    for (const ScriptedAnswer& wrong :
         {ScriptedAnswer{from_hex("04 02 000A"), 0ms, 0, true},  // checksum, transaction
          ScriptedAnswer{from_hex("03 02 000A")},                // another function
          ScriptedAnswer{from_hex("04 04 000A 000B")}}) {        // another length
      ScriptedPeer peer(medium, [&](const SeenRequest&) { return wrong; });
      ModbusBus bus(peer.link(150ms));
      ASSERT_TRUE(bus.connect());
      const auto words = bus.read(unit, ModbusTable::Input, 8, 1);
      ASSERT_FALSE(words.ok());
      EXPECT_NE(words.error(), SampleFault::DeviceException);
      // Whatever may still be under way cannot reach the next request.
      EXPECT_TRUE(medium == Medium::Tcp ? !bus.connected() : bus.out_of_step());
    }
  }
}

TEST(ModbusWire, AnotherUnitsAnswerIsNotTaken) {
  ScriptedPeer peer(Medium::Serial, [&](const SeenRequest&) {
    return ScriptedAnswer{from_hex("04 02 000A"), 0ms, 0x12, false};
  });
  ModbusBus bus(peer.link(150ms));
  ASSERT_TRUE(bus.connect());
  EXPECT_FALSE(bus.read(unit, ModbusTable::Input, 8, 1).ok());
  EXPECT_TRUE(bus.out_of_step());
}

// A peer that sends byte after byte must not stretch the time-out: the deadline is of the answer.
TEST(ModbusWire, TheTimeOutIsThatOfTheWholeAnswer) {
  ScriptedPeer peer(Medium::Tcp, [&](const SeenRequest&) { return ScriptedAnswer{}; });
  ModbusBus bus(peer.link(100ms));
  ASSERT_TRUE(bus.connect());
  const auto begin = std::chrono::steady_clock::now();
  const auto words = bus.read(unit, ModbusTable::Input, 8, 1);
  EXPECT_LT(std::chrono::steady_clock::now() - begin, 5s);
  ASSERT_FALSE(words.ok());
  EXPECT_EQ(words.error(), SampleFault::Timeout);
}

}  // namespace
}  // namespace brinegate::drivers
