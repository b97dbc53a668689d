// SPDX-License-Identifier: Apache-2.0
// The Modbus line against peers that are late, silent and stubborn on purpose (S2, S12).
#include "drivers/modbus_line.h"

#include <algorithm>
#include <map>

#include <gtest/gtest.h>

#include "drivers/clock.h"
#include "tests/drivers/recording_sink.h"
#include "tests/drivers/scripted_peer.h"

namespace brinegate::drivers {
namespace {

using namespace std::chrono_literals;
using Medium = ScriptedPeer::Medium;

constexpr ProbeKey cell{0, 0};
constexpr OutputKey pump{0, OutputRole::Pump};

ModbusProbe register_probe(ProbeKey key, std::uint16_t address, std::uint8_t unit = 1,
                           std::chrono::milliseconds every = 50ms) {
  config::ModbusSource source;
  source.link = "rack";
  source.unit = unit;
  source.table = config::ModbusTable::Input;
  source.address = address;
  source.encoding = config::ModbusEncoding::UInt16;
  source.every = every;
  return {key, source};
}

ModbusSwitch timed_pump(std::uint8_t unit = 2) {
  config::ModbusOutput output;
  output.link = "rack";
  output.unit = unit;
  output.coil = 0;
  output.timed = config::TimedOn{16, 100ms};
  return {pump, output};
}

ModbusSwitch latching_pump() {
  ModbusSwitch plain = timed_pump();
  plain.output.timed.reset();
  return plain;
}

std::uint16_t word(const Bytes& bytes, std::size_t at) {
  return static_cast<std::uint16_t>(bytes[at] * 256 + bytes[at + 1]);
}

ScriptedAnswer register_answer(std::uint16_t value) {
  return {{4, 2, static_cast<std::uint8_t>(value >> 8U), static_cast<std::uint8_t>(value & 0xFFU)}};
}

// A relay with one coil and one timed register; the timed one does not run out by itself here, so
// that what the line sends is seen apart from what the device does on its own.
class Relay {
 public:
  ScriptedAnswer operator()(const SeenRequest& request) {
    const Bytes& pdu = request.pdu;
    switch (pdu[0]) {
      case 1:
        return {{1, 1, static_cast<std::uint8_t>(on_ ? 1 : 0)}};
      case 5:
        on_ = !welded && pdu[3] == 0xFF;
        on_ = on_ || welded;
        return {pdu};
      case 6:
        on_ = welded || word(pdu, 3) > 0;
        return {pdu};
      default:
        return register_answer(word(pdu, 1));
    }
  }
  bool welded = false;

 private:
  bool on_ = true;  // found on: start-up must switch it off
};

bool is_on_write(const SeenRequest& request) {
  return (request.pdu[0] == 6 && word(request.pdu, 3) > 0) ||
         (request.pdu[0] == 5 && request.pdu[3] == 0xFF);
}

class OnMedium : public ::testing::TestWithParam<Medium> {};
INSTANTIATE_TEST_SUITE_P(ModbusLine, OnMedium, ::testing::Values(Medium::Tcp, Medium::Serial),
                         [](const auto& parameter) {
                           return parameter.param == Medium::Tcp ? "Tcp" : "Serial";
                         });

TEST_P(OnMedium, DeliversWhatTheDeviceHolds) {
  RecordingSink sink;
  ScriptedPeer peer(GetParam(),
                    [](const SeenRequest& r) { return register_answer(word(r.pdu, 1)); });
  ModbusLine line(peer.link(500ms), {register_probe(cell, 5307)}, {}, sink);
  line.open();
  EXPECT_TRUE(sink.wait_for_value(cell, 5307.0));
}

// S12. Every register holds its own address, so an answer that belongs to another request shows.
// Each fifth answer comes after the time-out; without care all later ones would be shifted by one.
TEST_P(OnMedium, ALateAnswerIsNeverTakenForTheNextRequests) {
  RecordingSink sink;
  int asked = 0;
  ScriptedPeer peer(GetParam(), [&asked](const SeenRequest& request) {
    ScriptedAnswer answer = register_answer(word(request.pdu, 1));
    answer.after = ++asked % 5 == 0 ? 200ms : 0ms;
    return answer;
  });
  std::vector<ModbusProbe> probes;
  for (std::uint16_t address = 0; address < 4; ++address) {
    probes.push_back(register_probe({0, address}, address, 1, 10ms));
  }
  ModbusLine line(peer.link(120ms), probes, {}, sink);
  line.open();
  EXPECT_TRUE(sink.wait_for_fault(cell, SampleFault::Timeout));
  const auto enough = [&] {
    std::size_t good = 0;
    for (std::size_t probe = 0; probe < probes.size(); ++probe) {
      for (const Sample& sample : sink.samples({0, probe})) {
        good += sample.fault == SampleFault::None ? 1 : 0;
      }
    }
    return good >= 12;
  };
  for (int tenths = 0; tenths < 200 && !enough(); ++tenths) {
    std::this_thread::sleep_for(100ms);
  }
  line.close();
  EXPECT_TRUE(enough());
  for (std::size_t probe = 0; probe < probes.size(); ++probe) {
    for (const Sample& sample : sink.samples({0, probe})) {
      if (sample.fault == SampleFault::None) {
        ASSERT_EQ(sample.value, static_cast<double>(probe));
      }
    }
  }
}

// The hard case of a serial line: the answer comes so late that the line was listened out already.
TEST(ModbusLine, AnAnswerLaterThanTheListeningOutIsStillNotTakenOnASerialLine) {
  RecordingSink sink;
  int asked = 0;
  ScriptedPeer peer(Medium::Serial, [&asked](const SeenRequest& request) {
    ScriptedAnswer answer = register_answer(word(request.pdu, 1));
    answer.after = asked++ == 0 ? 340ms : 0ms;  // time-out 100 ms, then 200 ms of silence
    return answer;
  });
  ModbusLine line(peer.link(100ms),
                  {register_probe(cell, 7, 1, 10ms), register_probe({0, 1}, 8, 1, 10ms)}, {}, sink);
  line.open();
  EXPECT_TRUE(sink.wait_for_value(cell, 7.0));
  EXPECT_TRUE(sink.wait_for_value({0, 1}, 8.0));
  line.close();
  for (const std::size_t probe : {0U, 1U}) {
    for (const Sample& sample : sink.samples({0, probe})) {
      EXPECT_TRUE(sample.fault != SampleFault::None ||
                  sample.value == static_cast<double>(7 + probe));
    }
  }
}

TEST_P(OnMedium, ADeadUnitDoesNotStarveTheOthersOnItsLine) {
  RecordingSink sink;
  ScriptedPeer peer(GetParam(), [](const SeenRequest& request) {
    return request.unit == 9 ? ScriptedAnswer{} : register_answer(word(request.pdu, 1));
  });
  ModbusLine line(peer.link(60ms), {register_probe(cell, 3, 1), register_probe({0, 1}, 4, 9)}, {},
                  sink);
  line.open();
  std::this_thread::sleep_for(3s);
  line.close();
  int good = 0;
  for (const Sample& sample : sink.samples(cell)) {
    good += sample.fault == SampleFault::None ? 1 : 0;
  }
  EXPECT_GT(good, 20);  // of 60 without the dead unit
  for (const Sample& sample : sink.samples({0, 1})) {
    EXPECT_NE(sample.fault, SampleFault::None);
  }
  EXPECT_GT(sink.samples({0, 1}).size(), 20U);  // told that often, asked much less
  const auto requests = peer.requests();
  EXPECT_LT(std::count_if(requests.begin(), requests.end(),
                          [](const SeenRequest& r) { return r.unit == 9; }),
            10);
}

TEST_P(OnMedium, ABlockedLineDelaysNoOther) {
  RecordingSink sink;
  ScriptedPeer dead(GetParam(), [](const SeenRequest&) { return ScriptedAnswer{}; });
  ScriptedPeer alive(GetParam(),
                     [](const SeenRequest& r) { return register_answer(word(r.pdu, 1)); });
  ModbusLine blocked(dead.link(2s), {register_probe({0, 1}, 1)}, {}, sink);
  ModbusLine line(alive.link(2s), {register_probe(cell, 3)}, {}, sink);
  blocked.open();
  line.open();
  EXPECT_TRUE(sink.wait_for_sample(
      cell, [](const Sample& sample) { return sample.fault == SampleFault::None; }, 1500ms));
}

TEST_P(OnMedium, OutputsAreOffFromTheStart) {
  RecordingSink sink;
  ScriptedPeer peer(GetParam(), Relay());
  ModbusLine line(peer.link(500ms), {}, {timed_pump()}, sink);
  line.open();
  ASSERT_TRUE(sink.wait_for_report(false, SampleFault::None));
  const auto requests = peer.requests();
  ASSERT_GE(requests.size(), 3U);
  EXPECT_EQ(requests[0].pdu, from_hex("06 0010 0000"));  // the timed register
  EXPECT_EQ(requests[1].pdu, from_hex("05 0000 0000"));  // the coil
  EXPECT_EQ(requests[2].pdu, from_hex("01 0000 0001"));  // and the proof
}

TEST_P(OnMedium, ATimedOnGivesWhatIsLeftOfTheLeaseAndNotMore) {
  RecordingSink sink;
  ScriptedPeer peer(GetParam(), Relay());
  ModbusLine line(peer.link(500ms), {}, {timed_pump()}, sink);
  line.open();
  ASSERT_TRUE(sink.wait_for_report(false, SampleFault::None));
  const auto asked = std::chrono::steady_clock::now();
  line.drive(pump, monotonic_now() + 5s);
  ASSERT_TRUE(sink.wait_for_report(true, SampleFault::None));
  for (const SeenRequest& request : peer.requests()) {
    if (is_on_write(request)) {
      EXPECT_EQ(request.pdu[0], 6);
      const auto lapses = request.at + word(request.pdu, 3) * 100ms;
      EXPECT_GT(lapses, asked + 4s);
      EXPECT_LE(word(request.pdu, 3), 50);
    }
  }
}

TEST_P(OnMedium, AnOnThatIsNotRenewedIsSwitchedOffAtItsEnd) {
  RecordingSink sink;
  ScriptedPeer peer(GetParam(), Relay());
  ModbusLine line(peer.link(500ms), {}, {latching_pump()}, sink);
  line.open();
  ASSERT_TRUE(sink.wait_for_report(false, SampleFault::None));
  const auto end = std::chrono::steady_clock::now() + 600ms;
  line.drive(pump, monotonic_now() + 600ms);
  ASSERT_TRUE(sink.wait_for_report(true, SampleFault::None));
  sink.forget();
  ASSERT_TRUE(sink.wait_for_report(false, SampleFault::None, 3s));
  const auto requests = peer.requests();
  const auto off = std::find_if(requests.rbegin(), requests.rend(), [](const SeenRequest& r) {
    return r.pdu == from_hex("05 0000 0000");
  });
  ASSERT_NE(off, requests.rend());
  EXPECT_LT(off->at - end, 300ms);
}

TEST_P(OnMedium, OffIsRepeatedUntilTheCoilReadsZero) {
  RecordingSink sink;
  Relay relay;
  relay.welded = true;
  std::atomic<bool> freed = false;
  ScriptedPeer peer(GetParam(), [&](const SeenRequest& request) {
    relay.welded = !freed;
    return relay(request);
  });
  ModbusLine line(peer.link(500ms), {}, {timed_pump()}, sink);
  line.open();
  ASSERT_TRUE(sink.wait_for_report(false, SampleFault::BadAnswer));
  const std::size_t before = peer.requests().size();
  std::this_thread::sleep_for(1500ms);
  EXPECT_GT(peer.requests().size(), before + 3);
  freed = true;
  EXPECT_TRUE(sink.wait_for_report(false, SampleFault::None));
}

TEST_P(OnMedium, AnOutputSwitchedOnByAnotherHandIsSwitchedOffAgain) {
  RecordingSink sink;
  std::atomic<bool> meddle = false;
  Relay relay;
  ScriptedPeer peer(GetParam(), [&](const SeenRequest& request) {
    if (meddle.exchange(false)) {
      SeenRequest foreign = request;
      foreign.pdu = from_hex("05 0000 FF00");
      relay(foreign);
    }
    return relay(request);
  });
  ModbusLine line(peer.link(500ms), {}, {timed_pump()}, sink);
  line.open();
  ASSERT_TRUE(sink.wait_for_report(false, SampleFault::None));
  const std::size_t before = peer.requests().size();
  meddle = true;
  std::this_thread::sleep_for(1800ms);
  const auto requests = peer.requests();
  const auto off =
      std::find_if(requests.begin() + static_cast<std::ptrdiff_t>(before), requests.end(),
                   [](const SeenRequest& r) { return r.pdu == from_hex("05 0000 0000"); });
  EXPECT_NE(off, requests.end());
  EXPECT_TRUE(sink.was_taken_over());
}

// S14: the other way round, between two renewals.
TEST_P(OnMedium, AnOutputSwitchedOffByAnotherHandIsToldOf) {
  RecordingSink sink;
  std::atomic<bool> meddle = false;
  Relay relay;
  ScriptedPeer peer(GetParam(), [&](const SeenRequest& request) {
    if (meddle.exchange(false)) {
      SeenRequest foreign = request;
      foreign.pdu = from_hex("05 0000 0000");
      relay(foreign);
    }
    return relay(request);
  });
  ModbusLine line(peer.link(500ms), {}, {timed_pump()}, sink);
  line.open();
  ASSERT_TRUE(sink.wait_for_report(false, SampleFault::None));
  for (int renewal = 0; renewal < 3; ++renewal) {
    sink.forget();
    line.drive(pump, monotonic_now() + 5s);
    ASSERT_TRUE(sink.wait_for_report(true, SampleFault::None));
  }
  EXPECT_FALSE(sink.was_taken_over());
  meddle = true;
  sink.forget();
  line.drive(pump, monotonic_now() + 5s);
  ASSERT_TRUE(sink.wait_for_report(true, SampleFault::None));
  EXPECT_TRUE(sink.was_taken_over());
}

// What lapsed by itself, or was left on by whoever drove it before, nobody has taken over.
TEST_P(OnMedium, WhatLapsedByItselfIsNotTakenForAnothersHand) {
  RecordingSink sink;
  ScriptedPeer peer(GetParam(), Relay());  // found on
  ModbusLine line(peer.link(500ms), {}, {timed_pump()}, sink);
  line.open();
  ASSERT_TRUE(sink.wait_for_report(false, SampleFault::None));
  line.drive(pump, monotonic_now() + 400ms);
  ASSERT_TRUE(sink.wait_for_report(true, SampleFault::None));
  sink.forget();
  ASSERT_TRUE(sink.wait_for_report(false, SampleFault::None));
  line.drive(pump, monotonic_now() + 400ms);
  ASSERT_TRUE(sink.wait_for_report(true, SampleFault::None));
  EXPECT_FALSE(sink.was_taken_over());
}

// S2: while the device is deaf, permits come and lapse; when it hears again, nothing of that may
// reach it but "off".
TEST_P(OnMedium, AnOnThatWaitedForABlockedLineIsNeverSentLate) {
  RecordingSink sink;
  Relay relay;
  std::atomic<bool> deaf = false;
  ScriptedPeer peer(GetParam(), [&](const SeenRequest& request) {
    return deaf ? ScriptedAnswer{} : relay(request);
  });
  ModbusLine line(peer.link(200ms), {}, {timed_pump()}, sink);
  line.open();
  ASSERT_TRUE(sink.wait_for_report(false, SampleFault::None));
  deaf = true;
  line.drive(pump, monotonic_now() + 700ms);
  const auto end = std::chrono::steady_clock::now() + 700ms;
  ASSERT_TRUE(sink.wait_for_report(true, SampleFault::Timeout));
  std::this_thread::sleep_until(end + 500ms);
  deaf = false;
  sink.forget();
  EXPECT_TRUE(sink.wait_for_report(false, SampleFault::None));
  line.close();
  for (const SeenRequest& request : peer.requests()) {
    EXPECT_FALSE(is_on_write(request) && request.at > end);
    if (is_on_write(request)) {
      EXPECT_LE(request.at + word(request.pdu, 3) * 100ms, end + 20ms);
    }
  }
  EXPECT_FALSE(is_on_write(peer.requests().back()));
}

TEST_P(OnMedium, ClosingSwitchesOff) {
  RecordingSink sink;
  ScriptedPeer peer(GetParam(), Relay());
  {
    ModbusLine line(peer.link(500ms), {}, {timed_pump()}, sink);
    line.open();
    ASSERT_TRUE(sink.wait_for_report(false, SampleFault::None));
    line.drive(pump, monotonic_now() + 60s);
    ASSERT_TRUE(sink.wait_for_report(true, SampleFault::None));
    sink.forget();
    line.close();
  }
  EXPECT_TRUE(sink.wait_for_report(false, SampleFault::None, 0ms));
  const auto requests = peer.requests();
  EXPECT_EQ(requests[requests.size() - 3].pdu, from_hex("06 0010 0000"));
  EXPECT_EQ(requests[requests.size() - 2].pdu, from_hex("05 0000 0000"));
  EXPECT_EQ(requests[requests.size() - 1].pdu, from_hex("01 0000 0001"));
}

TEST_P(OnMedium, ClosingDoesNotWaitForeverForADeadDevice) {
  RecordingSink sink;
  ScriptedPeer peer(GetParam(), [](const SeenRequest&) { return ScriptedAnswer{}; });
  ModbusLine line(peer.link(100ms), {}, {timed_pump()}, sink);
  line.open();
  ASSERT_TRUE(sink.wait_for_report(false, SampleFault::Timeout));
  const auto begin = std::chrono::steady_clock::now();
  line.close();
  EXPECT_LT(std::chrono::steady_clock::now() - begin, 3s);
}

TEST(ModbusLine, NobodyThereIsAFaultForEverySource) {
  RecordingSink sink;
  config::Link link;
  link.name = "rack";
  {
    const ScriptedPeer gone(Medium::Tcp, [](const SeenRequest&) { return ScriptedAnswer{}; });
    link = gone.link(200ms);
  }
  ModbusLine line(link, {register_probe(cell, 1), register_probe({0, 1}, 2)}, {timed_pump()}, sink);
  line.open();
  EXPECT_TRUE(sink.wait_for_fault(cell, SampleFault::NotConnected));
  EXPECT_TRUE(sink.wait_for_fault({0, 1}, SampleFault::NotConnected));
  EXPECT_TRUE(sink.wait_for_report(false, SampleFault::NotConnected));
}

}  // namespace
}  // namespace brinegate::drivers
