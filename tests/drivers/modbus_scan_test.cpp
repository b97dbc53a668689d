// SPDX-License-Identifier: Apache-2.0
// Looking who is on a Modbus line: against a peer of bytes that keeps every request, and against an
// independent implementation (pymodbus).
#include "drivers/modbus_scan.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "drivers/modbus_bus.h"
#include "tests/drivers/peer_process.h"
#include "tests/drivers/scripted_peer.h"

namespace brinegate::drivers {
namespace {

using namespace std::chrono_literals;
using config::LineTrouble;
using config::ModbusTable;
using Medium = ScriptedPeer::Medium;
using Words = std::vector<std::uint16_t>;

constexpr auto silently = [](std::uint8_t) {};

ScanRange units(std::uint8_t first, std::uint8_t last, std::uint16_t registers = 16) {
  return {first, last, 0, registers};
}

std::uint16_t word_at(const Bytes& bytes, std::size_t at) {
  return static_cast<std::uint16_t>(bytes[at] * 256 + bytes[at + 1]);
}

ScriptedAnswer exception(const SeenRequest& request, std::uint8_t code) {
  return {{static_cast<std::uint8_t>(request.pdu[0] | 0x80U), code}};
}

// Unit 2 alone: input registers 3 to 9, each with its address as its word, and no function 3.
ScriptedAnswer transmitter(const SeenRequest& request) {
  if (request.unit != 2) {
    return {};
  }
  if (request.pdu[0] != 4) {
    return exception(request, 1);
  }
  const int first = word_at(request.pdu, 1);
  const int count = word_at(request.pdu, 3);
  if (first < 3 || first + count > 10) {
    return exception(request, 2);
  }
  ScriptedAnswer answer{{4, static_cast<std::uint8_t>(2 * count)}};
  for (int i = 0; i < count; ++i) {
    answer.pdu.push_back(0);
    answer.pdu.push_back(static_cast<std::uint8_t>(first + i));
  }
  return answer;
}

class OnBothMedia : public ::testing::TestWithParam<Medium> {};

TEST_P(OnBothMedia, FindsTheUnitThatAnswersAndAllOfItsRegistersInOneRun) {
  ScriptedPeer peer(GetParam(), transmitter);
  std::vector<int> asked;
  const auto found =
      scan(peer.link(60ms), units(1, 3), [&](std::uint8_t unit) { asked.push_back(unit); });
  ASSERT_TRUE(found.ok());
  EXPECT_EQ(asked, (std::vector{1, 2, 3}));
  ASSERT_EQ(found->size(), 1U);
  EXPECT_EQ(found->front().unit, 2);
  ASSERT_EQ(found->front().runs.size(), 1U);
  EXPECT_EQ(found->front().runs[0].table, ModbusTable::Input);
  EXPECT_EQ(found->front().runs[0].first, 3);
  EXPECT_EQ(found->front().runs[0].words, (Words{3, 4, 5, 6, 7, 8, 9}));
}

TEST_P(OnBothMedia, OnlyEverReads) {
  ScriptedPeer peer(GetParam(), transmitter);
  ASSERT_TRUE(scan(peer.link(60ms), units(1, 3), silently).ok());
  ASSERT_GT(peer.requests().size(), 10U);
  for (const SeenRequest& request : peer.requests()) {
    EXPECT_TRUE(request.pdu[0] == 3 || request.pdu[0] == 4) << int{request.pdu[0]};
  }
}

INSTANTIATE_TEST_SUITE_P(ModbusScan, OnBothMedia, ::testing::Values(Medium::Tcp, Medium::Serial),
                         [](const auto& medium) {
                           return medium.param == Medium::Tcp ? "Tcp" : "Serial";
                         });

// Exception 0B of the specification, section 7: a gateway speaks for a unit that is not there.
TEST(ModbusScan, TakesAGatewaysRegretForSilence) {
  ScriptedPeer peer(Medium::Tcp, [](const SeenRequest& request) {
    return request.unit == 2 ? exception(request, 2) : exception(request, 11);
  });
  const auto found = scan(peer.link(200ms), units(1, 3), silently);
  ASSERT_TRUE(found.ok());
  ASSERT_EQ(found->size(), 1U);
  EXPECT_EQ(found->front().unit, 2);
  EXPECT_TRUE(found->front().runs.empty()) << "it answers, and has no register";
}

TEST(ModbusScan, TakesNoLongerThanItSaysWhereNobodyAnswers) {
  for (const Medium medium : {Medium::Tcp, Medium::Serial}) {
    ScriptedPeer peer(medium, [](const SeenRequest&) { return ScriptedAnswer{}; });
    const auto link = peer.link(40ms);
    const auto begin = std::chrono::steady_clock::now();
    const auto found = scan(link, units(1, 4), silently);
    const auto took = std::chrono::steady_clock::now() - begin;
    ASSERT_TRUE(found.ok());
    EXPECT_TRUE(found->empty());
    EXPECT_GE(took, 4 * 2 * 40ms);
    EXPECT_LE(took, longest_scan(link, units(1, 4)) + 500ms) << "half a second for a busy machine";
  }
}

TEST(ModbusScan, KeepsOffALineThatTheDaemonHolds) {
  ScriptedPeer peer(Medium::Serial, transmitter);
  auto link = peer.link(60ms);
  // A pseudo terminal knows no parity, and glibc notices on the second time that it is asked for.
  std::get<config::SerialAddress>(link.address).parity = config::Parity::None;
  ModbusBus daemon(link);
  ASSERT_TRUE(daemon.connect());
  const auto found = scan(link, units(1, 3), silently);
  ASSERT_FALSE(found.ok());
  EXPECT_EQ(found.error(), LineTrouble::Busy);
  EXPECT_TRUE(peer.requests().empty());
}

TEST(ModbusScan, SaysWhatIsNoSerialDevice) {
  config::Link link;
  link.timeout = 20ms;
  link.address = config::SerialAddress{"/dev/null", 9600, config::Parity::None, 1};
  EXPECT_EQ(scan(link, units(1, 1), silently).error(), LineTrouble::NoSuchDevice);
}

TEST(ModbusScan, ReadsAnIndependentSlave) {
  PeerProcess slave(
      {"/usr/bin/python3", BRINEGATE_SOURCE_DIR "/tests/peers/modbus_slave.py", "tcp", "0"});
  config::Link link;
  link.address =
      config::TcpAddress{"127.0.0.1", static_cast<std::uint16_t>(std::stoi(slave.line()))};
  link.timeout = 1s;
  const auto found = scan(link, units(1, 2, 8), silently);
  ASSERT_TRUE(found.ok());
  ASSERT_EQ(found->size(), 1U);
  ASSERT_EQ(found->front().runs.size(), 2U);
  EXPECT_EQ(found->front().runs[0].words, (Words{0x4254, 0x428F, 0x428F, 0x4254, 252, 0xFFFE}));
  EXPECT_EQ(found->front().runs[1].table, ModbusTable::Holding);

  config::ModbusSource source;
  source.encoding = config::ModbusEncoding::Float32;
  EXPECT_NEAR(read_once(link, source).value(), 53.065, 1e-5);
  source.unit = 2;
  EXPECT_EQ(read_once(link, source).error(), SampleFault::Timeout);
}

}  // namespace
}  // namespace brinegate::drivers
