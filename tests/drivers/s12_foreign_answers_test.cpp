// SPDX-License-Identifier: Apache-2.0
// S12: an answer that is not the present request's is never a value, whatever is wrong with it; the
// device is read again when it behaves, and no other line waits for it.
#include <atomic>
#include <memory>

#include <gtest/gtest.h>

#include "drivers/modbus_line.h"
#include "tests/drivers/recording_sink.h"
#include "tests/drivers/scripted_peer.h"

namespace brinegate::drivers {
namespace {

using namespace std::chrono_literals;
using Medium = ScriptedPeer::Medium;

constexpr ProbeKey cell{0, 0};
constexpr ProbeKey other_cell{0, 1};
constexpr double true_value = 5307.0;

ModbusProbe probe(ProbeKey key) {
  config::ModbusSource source;
  source.link = "rack";
  source.unit = 1;
  source.table = config::ModbusTable::Input;
  source.encoding = config::ModbusEncoding::UInt16;
  source.every = 20ms;
  return {key, source};
}

ScriptedAnswer good_answer() {
  return {from_hex("04 02 14BB")};
}

struct Misbehaviour {
  std::string name;
  Medium medium;
  ScriptedAnswer answer;
};

std::vector<Misbehaviour> misbehaviours() {
  std::vector<Misbehaviour> all;
  for (const Medium medium : {Medium::Tcp, Medium::Serial}) {
    const std::string on = medium == Medium::Tcp ? "OverTcp" : "OnASerialLine";
    const auto add = [&](const std::string& name, const ScriptedAnswer& answer) {
      all.push_back({name + on, medium, answer});
    };
    add("Silence", {});
    add("Late", {from_hex("04 02 0001"), 150ms});
    add("OfAnotherFunction", {from_hex("03 02 0001")});
    add("TooShort", {from_hex("04 01 00")});
    add("TooLong", {from_hex("04 04 0001 0002")});
    add("AnException", {from_hex("84 02")});
    add("Spoiled", {from_hex("04 02 0001"), 0ms, 0, true});
  }
  all.push_back({"OfAnotherUnitOnASerialLine", Medium::Serial, {from_hex("04 02 0001"), 0ms, 9}});
  return all;
}

class ForeignAnswer : public ::testing::TestWithParam<Misbehaviour> {};
INSTANTIATE_TEST_SUITE_P(S12, ForeignAnswer, ::testing::ValuesIn(misbehaviours()),
                         [](const auto& parameter) { return parameter.param.name; });

TEST_P(ForeignAnswer, IsNeverAValueAndDelaysNoOtherLine) {
  RecordingSink sink;
  std::atomic<bool> misbehaves = true;
  ScriptedPeer bad(GetParam().medium, [&](const SeenRequest&) {
    return misbehaves ? GetParam().answer : good_answer();
  });
  ScriptedPeer good(GetParam().medium, [](const SeenRequest&) { return good_answer(); });
  ModbusLine line(bad.link(80ms), {probe(cell)}, {}, sink);
  ModbusLine other(good.link(80ms), {probe(other_cell)}, {}, sink);
  line.open();
  other.open();
  ASSERT_TRUE(sink.wait_for_sample(
      cell, [](const Sample& sample) { return sample.fault != SampleFault::None; }));
  sink.forget();
  EXPECT_TRUE(sink.wait_for_sample(
      other_cell, [](const Sample& sample) { return sample.fault == SampleFault::None; }, 2s));
  for (const Sample& sample : sink.samples(cell)) {
    EXPECT_NE(sample.fault, SampleFault::None) << sample.value;
  }
  misbehaves = false;
  EXPECT_TRUE(sink.wait_for_value(cell, true_value));
  line.close();
  for (const Sample& sample : sink.samples(cell)) {
    EXPECT_TRUE(sample.fault != SampleFault::None || sample.value == true_value) << sample.value;
  }
}

// S14: two masters on one bus would take each other's answers.
TEST(S14, ASecondMasterOfOursOnASerialLineIsKeptOutUntilTheFirstIsGone) {
  RecordingSink sink;
  ScriptedPeer peer(Medium::Serial, [](const SeenRequest&) { return good_answer(); });
  auto first = std::make_unique<ModbusLine>(peer.link(300ms), std::vector{probe(cell)},
                                            std::vector<ModbusSwitch>{}, sink);
  first->open();
  ASSERT_TRUE(sink.wait_for_value(cell, true_value));
  ModbusLine second(peer.link(300ms), {probe(other_cell)}, {}, sink);
  second.open();
  EXPECT_TRUE(sink.wait_for_fault(other_cell, SampleFault::NotConnected));
  EXPECT_FALSE(sink.wait_for_sample(
      other_cell, [](const Sample& sample) { return sample.fault == SampleFault::None; }, 1500ms));
  first.reset();
  EXPECT_TRUE(sink.wait_for_value(other_cell, true_value));
}

}  // namespace
}  // namespace brinegate::drivers
