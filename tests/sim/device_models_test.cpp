// SPDX-License-Identifier: Apache-2.0
// Relay board and transmitter without a line, and what a unit answers to raw requests.
#include "sim/device_models.h"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include "sim/modbus_slave.h"

namespace brinegate::sim {
namespace {

using namespace std::chrono_literals;
using config::ModbusTable;

constexpr MonoTime start_time{1h};

Pdu ask(ModbusUnit& unit, const Pdu& request, MonoTime now = start_time) {
  return answer(unit, request, now).value_or(Pdu{});
}

TEST(RelayBoard, DropsThePumpWhenItsTimeLapses) {
  RelayBoard board;
  EXPECT_FALSE(board.pump_has_power(start_time));
  board.write(ModbusTable::Holding, 16, 50, start_time);
  EXPECT_TRUE(board.pump_has_power(start_time));
  EXPECT_TRUE(board.pump_has_power(start_time + 4999ms));
  EXPECT_FALSE(board.pump_has_power(start_time + 5s));
  EXPECT_FALSE(board.pump_coil(start_time + 5s));
}

TEST(RelayBoard, StaysOnWhileTheTimeIsRenewed) {
  RelayBoard board;
  for (int i = 0; i < 10; ++i) {
    board.write(ModbusTable::Holding, 16, 50, start_time + i * 4s);
    EXPECT_TRUE(board.pump_has_power(start_time + i * 4s + 3999ms));
  }
  board.write(ModbusTable::Holding, 16, 0, start_time + 41s);
  EXPECT_FALSE(board.pump_has_power(start_time + 41s));
}

TEST(RelayBoard, CountsTheStepsLeftDown) {
  RelayBoard board;
  board.write(ModbusTable::Holding, 16, 50, start_time);
  EXPECT_EQ(board.read(ModbusTable::Holding, 16, start_time).value, 50);
  EXPECT_EQ(board.read(ModbusTable::Holding, 16, start_time + 150ms).value, 49);
  EXPECT_EQ(board.read(ModbusTable::Holding, 16, start_time + 4950ms).value, 1);
  EXPECT_EQ(board.read(ModbusTable::Holding, 16, start_time + 5s).value, 0);
}

TEST(RelayBoard, StaysOnForEverWhenPlainlySwitched) {
  RelayBoard board;
  board.write(ModbusTable::Coil, 0, 1, start_time);
  EXPECT_TRUE(board.pump_has_power(start_time + 1000h));
  board.write(ModbusTable::Coil, 0, 0, start_time + 1000h);
  EXPECT_FALSE(board.pump_has_power(start_time + 1000h));
}

TEST(RelayBoard, CoilOffEndsATimedOn) {
  RelayBoard board;
  board.write(ModbusTable::Holding, 16, 50, start_time);
  board.write(ModbusTable::Coil, 0, 0, start_time + 1s);
  EXPECT_FALSE(board.pump_has_power(start_time + 1s));
}

TEST(RelayBoard, WeldedContactKeepsThePumpOnUntilTheSecondCutoffDrops) {
  RelayBoard board;
  board.write(ModbusTable::Holding, 16, 10, start_time);
  board.set_welded(true);
  EXPECT_FALSE(board.pump_coil(start_time + 2s));
  EXPECT_EQ(board.read(ModbusTable::Discrete, 0, start_time + 2s).value, 1);
  board.write(ModbusTable::Coil, 2, 0, start_time + 3s);
  EXPECT_EQ(board.read(ModbusTable::Discrete, 0, start_time + 3s).value, 0);
}

TEST(RelayBoard, AnswersTheContacts) {
  RelayBoard board;
  board.set_leak(true);
  EXPECT_EQ(ask(board, {2, 0, 0, 0, 4}), (Pdu{2, 1, 0b0110}));  // circulates, leaks
  board.set_tank_high(true);
  board.write(ModbusTable::Coil, 1, 0, start_time);
  EXPECT_EQ(ask(board, {2, 0, 0, 0, 4}), (Pdu{2, 1, 0b1100}));
}

TEST(RelayBoard, WritesSeveralCoilsOrNone) {
  RelayBoard board;
  EXPECT_EQ(ask(board, {15, 0, 0, 0, 3, 1, 0b001}), (Pdu{15, 0, 0, 0, 3}));
  EXPECT_TRUE(board.pump_coil(start_time));
  EXPECT_FALSE(board.circulating());
  EXPECT_FALSE(board.second_cutoff());
  EXPECT_EQ(ask(board, {15, 0, 0, 0, 4, 1, 0b1110}), (Pdu{0x8F, 2}));  // there is no coil 3
  EXPECT_FALSE(board.circulating());
}

// Bytes of floats: 53.0 is 42 54 00 00, 25.0 is 41 C8 00 00 (IEEE 754).
TEST(Transmitter, SendsFloatsMostSignificantFirst) {
  Transmitter transmitter;
  transmitter.set(Channel::CellA, {53.0, false});
  transmitter.set(Channel::Temperature, {25.0, false});
  EXPECT_EQ(ask(transmitter, {4, 0, 0, 0, 4}), (Pdu{4, 8, 0x42, 0x54, 0, 0, 0x41, 0xC8, 0, 0}));
}

TEST(Transmitter, SwapsTheWordsOfAFaultyChannelOnly) {
  Transmitter transmitter;
  transmitter.set(Channel::CellA, {53.0, true});
  transmitter.set(Channel::Temperature, {25.0, false});
  EXPECT_EQ(ask(transmitter, {4, 0, 0, 0, 4}), (Pdu{4, 8, 0, 0, 0x42, 0x54, 0x41, 0xC8, 0, 0}));
}

TEST(Transmitter, LeavesReadsOfASilentProbeUnanswered) {
  Transmitter transmitter;
  transmitter.set(Channel::CellA, {53.0, false});
  EXPECT_TRUE(answer(transmitter, Pdu{4, 0, 0, 0, 2}, start_time).has_value());
  EXPECT_FALSE(answer(transmitter, Pdu{4, 0, 0, 0, 4}, start_time).has_value());
}

TEST(Transmitter, SendsTheLevelAsWholeMillimetres) {
  Transmitter transmitter;
  transmitter.set(Channel::Level, {600.4, false});
  EXPECT_EQ(ask(transmitter, {3, 0, 4, 0, 1}), (Pdu{3, 2, 0x02, 0x58}));
}

// MODBUS Application Protocol V1.1b3, section 7: the codes of exceptions.
TEST(ModbusPdu, RefusesWhatItDoesNotHave) {
  Transmitter transmitter;
  RelayBoard board;
  EXPECT_EQ(ask(transmitter, {4, 0, 8, 0, 1}), (Pdu{0x84, 2}));
  EXPECT_EQ(ask(transmitter, {3, 0, 0, 0, 1}), (Pdu{0x83, 2}));
  EXPECT_EQ(ask(transmitter, {6, 0, 4, 0, 1}), (Pdu{0x86, 2}));
  EXPECT_EQ(ask(transmitter, {4, 0, 0, 0, 126}), (Pdu{0x84, 3}));
  EXPECT_EQ(ask(transmitter, {4, 0, 0, 0, 0}), (Pdu{0x84, 3}));
  EXPECT_EQ(ask(transmitter, {4, 0xFF, 0xFF, 0, 2}), (Pdu{0x84, 2}));
  EXPECT_EQ(ask(transmitter, {43, 14, 1, 0}), (Pdu{0x80 | 43, 1}));
  EXPECT_EQ(ask(board, {5, 0, 0, 0x12, 0x34}), (Pdu{0x85, 3}));
  EXPECT_FALSE(board.pump_coil(start_time));
}

RC_GTEST_PROP(ModbusPdu, AnswersAnyBytesWithinThePduSize, ()) {
  RelayBoard board;
  const auto request = *rc::gen::arbitrary<Pdu>();
  if (const auto answered = answer(board, request, start_time)) {
    RC_ASSERT(answered->size() >= 2u);
    RC_ASSERT(answered->size() <= 253u);
    RC_ASSERT(((*answered)[0] & 0x7F) == (request[0] & 0x7F));
  }
}

TEST(AnswerFault, DoesWhatItSays) {
  RelayBoard board;
  const Pdu on{5, 0, 0, 0xFF, 0};
  EXPECT_FALSE(faulty_answer(board, AnswerFault::Silent, on, start_time).has_value());
  EXPECT_EQ(faulty_answer(board, AnswerFault::Exception, on, start_time), (Pdu{0x85, 4}));
  EXPECT_FALSE(board.pump_coil(start_time));
  EXPECT_EQ(faulty_answer(board, AnswerFault::Late, on, start_time), on);
  EXPECT_TRUE(board.pump_coil(start_time));
  EXPECT_GT(answer_delay(AnswerFault::Late), 1s);
  EXPECT_LT(answer_delay(AnswerFault::Slow), 300ms);
  EXPECT_GT(answer_delay(AnswerFault::Slow), 0s);
  EXPECT_EQ(answer_delay(AnswerFault::None), 0s);
}

// Check value of CRC-16/MODBUS over "123456789": 0x4B37 (catalogue of parametrised CRC algorithms).
TEST(ModbusCrc, AgreesWithThePublishedCheckValue) {
  const Pdu digits{'1', '2', '3', '4', '5', '6', '7', '8', '9'};
  EXPECT_EQ(modbus_crc(digits), 0x4B37);
}

}  // namespace
}  // namespace brinegate::sim
