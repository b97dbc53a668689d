// SPDX-License-Identifier: Apache-2.0
#include "drivers/registry.h"

#include <gtest/gtest.h>

#include "drivers/clock.h"
#include "tests/drivers/recording_sink.h"
#include "tests/drivers/scripted_peer.h"

namespace brinegate::drivers {
namespace {

using namespace std::chrono_literals;

config::Site site_with(const config::Link& link) {
  config::Site site;
  site.name = "cellar";
  site.links = {link};
  config::Station station;
  station.spec.name = "mixer";
  station.spec.probes.resize(2);
  station.spec.probes[0].measures = Measures::Conductivity;
  station.spec.probes[1].measures = Measures::Circulation;
  config::ModbusSource cell;
  cell.link = link.name;
  cell.table = config::ModbusTable::Input;
  cell.address = 8;
  cell.every = 100ms;
  config::ProcessSource contact;
  contact.command = {"/bin/sh", "-c", R"(echo '{"value": true}'; cat)"};
  station.sources = {cell, contact};
  config::ModbusOutput output;
  output.link = link.name;
  station.pump.emplace().output.address = output;
  site.stations = {station};
  return site;
}

TEST(Registry, BuildsADriverForEachLinkAndProcessAndRoutesOutputs) {
  ScriptedPeer peer(ScriptedPeer::Medium::Tcp, [](const SeenRequest& request) {
    const bool coil = request.pdu[0] == 1;
    return request.pdu[0] == 5 ? ScriptedAnswer{request.pdu}
                               : ScriptedAnswer{from_hex(coil ? "01 01 00" : "04 02 000A")};
  });
  RecordingSink sink;
  Drivers drivers = build_drivers(site_with(peer.link(500ms)), sink, {});
  EXPECT_EQ(drivers.lines_and_processes.size(), 2U);
  EXPECT_EQ(drivers.mqtt, nullptr);
  drivers.open();
  EXPECT_TRUE(sink.wait_for_value({0, 0}, 10.0));
  EXPECT_TRUE(sink.wait_for_value({0, 1}, 1.0));
  EXPECT_TRUE(sink.wait_for_report(false, SampleFault::None));
  // This relay's coil always reads 0: the write went out, and the missing effect is seen.
  drivers.drive({0, OutputRole::Pump}, monotonic_now() + 5s);
  EXPECT_TRUE(sink.wait_for_report(true, SampleFault::BadAnswer));
  drivers.drive({7, OutputRole::SecondCutoff}, std::nullopt);  // not ours: nothing happens
  drivers.close();
}

}  // namespace
}  // namespace brinegate::drivers
