// SPDX-License-Identifier: Apache-2.0
// The Modbus line against an independent implementation (pymodbus) in a process of its own that is
// frozen, killed and restarted.
#include <filesystem>
#include <memory>
#include <thread>

#include <gtest/gtest.h>

#include "drivers/clock.h"
#include "drivers/modbus_line.h"
#include "tests/drivers/peer_process.h"
#include "tests/drivers/recording_sink.h"
#include "tests/temporary_folder.h"

namespace brinegate::drivers {
namespace {

using namespace std::chrono_literals;
using config::ByteOrder;
using config::ModbusEncoding;
using config::ModbusTable;

const std::string slave_script = BRINEGATE_SOURCE_DIR "/tests/peers/modbus_slave.py";
constexpr OutputKey pump{0, OutputRole::Pump};

ModbusProbe probe(std::size_t index, ModbusTable table, std::uint16_t address,
                  ModbusEncoding encoding, ByteOrder order = ByteOrder::ABCD) {
  config::ModbusSource source;
  source.link = "rack";
  source.unit = 1;
  source.table = table;
  source.address = address;
  source.encoding = encoding;
  source.order = order;
  source.every = 50ms;
  return {{0, index}, source};
}

// What tests/peers/modbus_slave.py holds.
std::vector<ModbusProbe> probes_of_the_slave() {
  return {probe(0, ModbusTable::Input, 0, ModbusEncoding::Float32),
          probe(1, ModbusTable::Input, 2, ModbusEncoding::Float32, ByteOrder::CDAB),
          probe(2, ModbusTable::Input, 4, ModbusEncoding::UInt16),
          probe(3, ModbusTable::Input, 5, ModbusEncoding::Int16),
          probe(4, ModbusTable::Discrete, 0, ModbusEncoding::Bit)};
}

ModbusSwitch latching_pump() {
  config::ModbusOutput output;
  output.link = "rack";
  output.unit = 1;
  output.coil = 0;
  return {pump, output};
}

config::Link tcp_link(std::uint16_t port) {
  config::Link link;
  link.name = "rack";
  link.address = config::TcpAddress{"localhost", port};
  link.timeout = 300ms;
  return link;
}

struct TcpSlave {
  explicit TcpSlave(std::uint16_t asked = 0)
      : process({"/usr/bin/python3", slave_script, "tcp", std::to_string(asked)}),
        port(static_cast<std::uint16_t>(std::stoi("0" + process.line()))) {}
  PeerProcess process;
  std::uint16_t port;
};

void expect_the_slaves_values(RecordingSink& sink) {
  EXPECT_TRUE(sink.wait_for_value({0, 0}, double{53.065F}));
  EXPECT_TRUE(sink.wait_for_value({0, 1}, double{53.065F}));
  EXPECT_TRUE(sink.wait_for_value({0, 2}, 252.0));
  EXPECT_TRUE(sink.wait_for_value({0, 3}, -2.0));
  EXPECT_TRUE(sink.wait_for_value({0, 4}, 1.0));
}

void expect_the_pump_to_follow(RecordingSink& sink, ModbusLine& line) {
  EXPECT_TRUE(sink.wait_for_report(false, SampleFault::None));
  line.drive(pump, monotonic_now() + 30s);
  EXPECT_TRUE(sink.wait_for_report(true, SampleFault::None));
  sink.forget();
  line.drive(pump, std::nullopt);
  EXPECT_TRUE(sink.wait_for_report(false, SampleFault::None));
}

TEST(ModbusSlave, ValuesAndOutputsAgreeOverTcp) {
  const TcpSlave slave;
  RecordingSink sink;
  ModbusLine line(tcp_link(slave.port), probes_of_the_slave(), {latching_pump()}, sink);
  line.open();
  expect_the_slaves_values(sink);
  expect_the_pump_to_follow(sink, line);
}

TEST(ModbusSlave, ValuesAndOutputsAgreeOverASerialLine) {
  const TemporaryFolder folder;
  const std::string ours = folder.file("ours");
  const std::string theirs = folder.file("theirs");
  const PeerProcess wire({"socat", "pty,raw,echo=0,link=" + ours, "pty,raw,echo=0,link=" + theirs});
  for (int tries = 0; tries < 100 && !std::filesystem::exists(theirs); ++tries) {
    std::this_thread::sleep_for(50ms);
  }
  PeerProcess slave({"/usr/bin/python3", slave_script, "rtu", theirs});
  ASSERT_EQ(slave.line(), "ready");
  config::Link link;
  link.name = "rack";
  link.address = config::SerialAddress{ours, 19200, config::Parity::Even, 1};
  link.timeout = 300ms;
  RecordingSink sink;
  ModbusLine line(link, probes_of_the_slave(), {latching_pump()}, sink);
  line.open();
  expect_the_slaves_values(sink);
  expect_the_pump_to_follow(sink, line);
}

TEST(ModbusSlave, AnAbsentRegisterIsAnExceptionAndAnAbsentUnitATimeout) {
  const TcpSlave slave;
  RecordingSink sink;
  auto absent_unit = probe(1, ModbusTable::Input, 0, ModbusEncoding::UInt16);
  absent_unit.source.unit = 9;
  ModbusLine line(
      tcp_link(slave.port),
      {probe(0, ModbusTable::Input, 900, ModbusEncoding::UInt16), std::move(absent_unit)}, {},
      sink);
  line.open();
  EXPECT_TRUE(sink.wait_for_fault({0, 0}, SampleFault::DeviceException));
  EXPECT_TRUE(sink.wait_for_fault({0, 1}, SampleFault::Timeout));
}

TEST(ModbusSlave, AFrozenDeviceTimesOutAloneAndRecoversWhenItThaws) {
  const TcpSlave frozen;
  const TcpSlave healthy;
  RecordingSink sink;
  RecordingSink other;
  ModbusLine line(tcp_link(frozen.port), probes_of_the_slave(), {}, sink);
  ModbusLine neighbour(tcp_link(healthy.port), probes_of_the_slave(), {}, other);
  line.open();
  neighbour.open();
  ASSERT_TRUE(sink.wait_for_value({0, 2}, 252.0));
  ASSERT_TRUE(other.wait_for_value({0, 2}, 252.0));

  frozen.process.freeze();
  sink.forget();
  ASSERT_TRUE(sink.wait_for_fault({0, 2}, SampleFault::Timeout));
  other.forget();
  std::this_thread::sleep_for(1s);
  std::size_t good = 0;
  for (const Sample& sample : other.samples({0, 2})) {
    good += sample.fault == SampleFault::None ? 1 : 0;
  }
  EXPECT_GT(good, 10U);

  frozen.process.thaw();
  sink.forget();
  EXPECT_TRUE(sink.wait_for_value({0, 2}, 252.0));
}

TEST(ModbusSlave, ARestartedDeviceIsFoundAgainAndItsOutputSwitchedOff) {
  auto slave = std::make_unique<TcpSlave>();
  const std::uint16_t port = slave->port;
  RecordingSink sink;
  ModbusLine line(tcp_link(port), probes_of_the_slave(), {latching_pump()}, sink);
  line.open();
  ASSERT_TRUE(sink.wait_for_value({0, 2}, 252.0));
  slave.reset();
  ASSERT_TRUE(sink.wait_for_fault({0, 2}, SampleFault::NotConnected));
  const TcpSlave restarted(port);  // its coil is on at the start
  ASSERT_EQ(restarted.port, port);
  sink.forget();
  EXPECT_TRUE(sink.wait_for_value({0, 2}, 252.0));
  EXPECT_TRUE(sink.wait_for_report(false, SampleFault::None));
}

}  // namespace
}  // namespace brinegate::drivers
