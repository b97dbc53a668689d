// SPDX-License-Identifier: Apache-2.0
// What a valid configuration becomes, and how a file is read.
#include "config/load.h"

#include <fstream>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/config/cellar.h"

namespace brinegate::config {
namespace {

using namespace std::chrono_literals;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

std::string all(const std::vector<Problem>& problems) {
  std::string text;
  for (const Problem& problem : problems)
    text += render(problem) + "\n";
  return text;
}

Site loaded(std::string_view text) {
  Loaded result = load_text(text, "etc/cellar.toml");
  EXPECT_THAT(result.errors, IsEmpty()) << all(result.errors);
  return result.site.value_or(Site{});
}

const ProbeSpec& probe(const Site& site, std::size_t index) {
  return site.stations.at(0).spec.probes.at(index);
}

TEST(Load, KeepsProbesAndTheirSourcesInTheOrderOfTheFileWithTheReadbackLast) {
  const Site site = loaded(cellar);
  std::vector<std::string> names;
  for (const ProbeSpec& spec : site.stations.at(0).spec.probes)
    names.push_back(spec.name);
  EXPECT_THAT(names, ElementsAre("zz_cell", "bath", "height", "floor", "readback"));
  const auto& sources = site.stations.at(0).sources;
  ASSERT_EQ(sources.size(), names.size());
  EXPECT_EQ(std::get<ModbusSource>(sources[0]).address, 10);
  EXPECT_EQ(std::get<ModbusSource>(sources[0]).order, ByteOrder::CDAB);
  EXPECT_EQ(std::get<ModbusSource>(sources[0]).encoding, ModbusEncoding::Float32);
  EXPECT_EQ(std::get<MqttSource>(sources[1]).time_pointer, "/time");
  EXPECT_EQ(std::get<MqttSource>(sources[1]).simulated_pointer, "/simulated");
  EXPECT_EQ(std::get<ModbusSource>(sources[2]).every, 2s);
  EXPECT_EQ(std::get<ModbusSource>(sources[4]).table, ModbusTable::Discrete);
  EXPECT_EQ(probe(site, 0).temperature_from, 1U);
  EXPECT_EQ(probe(site, 4).measures, Measures::PumpRunning);
}

TEST(Load, FoldsTheUnitOfTheRawNumberIntoTheConversion) {
  const Site site = loaded(cellar);
  EXPECT_NEAR(converted(probe(site, 0).conversion, 53065.0), 53.065, 1e-9);  // uS/cm
  EXPECT_NEAR(converted(probe(site, 1).conversion, 77.0), 25.0, 1e-9);       // 77 F is 25 C
  EXPECT_NEAR(converted(probe(site, 2).conversion, 450.0), 111.2, 1e-9);     // 45 cm: halfway
  EXPECT_EQ(converted(probe(site, 3).conversion, 1.0), 0.0);                 // closed is dry
  EXPECT_EQ(converted(probe(site, 3).conversion, 0.0), 1.0);
  EXPECT_EQ(converted(probe(site, 4).conversion, 1.0), 1.0);  // closed is running
}

TEST(Load, AppliesScaleAndOffsetBeforeTheUnit) {
  const Site site =
      loaded(with(cellar, R"(in = "F" })", R"(scale = 0.1, offset = -5, in = "F" })"));
  EXPECT_NEAR(converted(probe(site, 1).conversion, 820.0), 25.0, 1e-9);  // 82 - 5 = 77 F
}

TEST(Load, ConvertsPptToPracticalSalinity) {
  const Site site = loaded(with(cellar, "[station.mixer.probe.floor]",
                                "[station.mixer.probe.meter]\nmeasures = \"salinity\"\n"
                                "source = { command = [\"read-meter\", \"-j\"], in = \"ppt\" "
                                "}\n[station.mixer.probe.floor]"));
  // 35.16504 g/kg is 35 PSU (TEOS-10).
  EXPECT_NEAR(converted(probe(site, 3).conversion, 35.16504), 35.0, 1e-9);
  EXPECT_THAT(std::get<ProcessSource>(site.stations[0].sources[3]).command,
              ElementsAre("read-meter", "-j"));
}

TEST(Load, ReadsLinksBrokerAndFolders) {
  const Site site = loaded(cellar);
  EXPECT_EQ(site.data, "etc/record");
  EXPECT_EQ(site.mqtt->broker, "mqtt://hub.example:1883");
  ASSERT_EQ(site.links.size(), 2U);
  EXPECT_EQ(std::get<TcpAddress>(site.links[0].address).host, "192.0.2.10");
  EXPECT_EQ(std::get<TcpAddress>(site.links[0].address).port, 1502);
  EXPECT_EQ(site.links[0].timeout, 300ms);
  const auto& serial = std::get<SerialAddress>(site.links[1].address);
  EXPECT_EQ(serial.device, "/dev/ttyUSB0");
  EXPECT_EQ(serial.baud, 9600);
  EXPECT_EQ(serial.parity, Parity::None);
}

TEST(Load, ReadsHowHomeAutomationIsTold) {
  EXPECT_FALSE(loaded(cellar).mqtt->discovery);
  EXPECT_EQ(loaded(cellar).mqtt->discovery_prefix, "homeassistant");
  EXPECT_EQ(loaded(cellar).mqtt->birth_topic, "homeassistant/status");
  EXPECT_EQ(loaded(cellar).mqtt->birth_payload, "online");
  EXPECT_FALSE(loaded(cellar).stations[0].pump->change_button);
  const std::string text =
      with(cellar, "broker =",
           "discovery = true\ndiscovery_prefix = \"house/found\"\nbirth_topic = \"house/status\"\n"
           "birth_payload = \"here\"\nbroker =");
  const Site site = loaded(with(text, "max_run =", "change_button = \"12.5 L\"\nmax_run ="));
  EXPECT_TRUE(site.mqtt->discovery);
  EXPECT_EQ(site.mqtt->discovery_prefix, "house/found");
  EXPECT_EQ(site.mqtt->birth_topic, "house/status");
  EXPECT_EQ(site.mqtt->birth_payload, "here");
  EXPECT_EQ(site.stations[0].pump->change_button, Litres(12.5));
}

TEST(Load, ReadsWhereBrowsersAreAnswered) {
  const auto http = [](const std::string& table) {
    return *loaded(with(cellar, "[mqtt]", "[http]\n" + table + "\n[mqtt]")).http;
  };
  EXPECT_FALSE(loaded(cellar).http);
  EXPECT_EQ(http("").address, "127.0.0.1");
  EXPECT_EQ(http("").port, 8480);
  EXPECT_EQ(http("token_file = \"t\"").token_file, "etc/t");
  EXPECT_THAT(http("hosts = [\"cellar.example\"]").hosts, ElementsAre("cellar.example"));
  EXPECT_EQ(http("listen = \"localhost:81\"").address, "127.0.0.1");
  EXPECT_EQ(http("listen = \"[::1]:81\"").address, "::1");
  EXPECT_TRUE(http("listen = \"[::1]:81\"").on_loopback());
  EXPECT_EQ(http("listen = \"[::1]:81\"").port, 81);
  EXPECT_FALSE(http("listen = \"192.0.2.1:80\"\ntoken_file = \"t\"").on_loopback());
}

TEST(Load, ReadsAnIpV6AddressWithItsPort) {
  const Site site = loaded(with(cellar, "modbus-tcp://192.0.2.10:1502", "modbus-tcp://[::1]:1502"));
  EXPECT_EQ(std::get<TcpAddress>(site.links[0].address).host, "::1");
  EXPECT_EQ(std::get<TcpAddress>(site.links[0].address).port, 1502);
}

TEST(Load, ReadsProfileAndPump) {
  const Site site = loaded(cellar);
  EXPECT_EQ(site.profiles.at(0).circulate, 45min);
  EXPECT_NEAR(site.profiles[0].target.value(), 34.8357, 1e-4);  // 35 / 1.0047154
  const PumpSpec& pump = site.stations[0].spec.pump.value();
  EXPECT_EQ(pump.max_volume, Litres(60.0));
  EXPECT_EQ(pump.max_run, 15min);
  EXPECT_TRUE(pump.has_readback);
  EXPECT_FALSE(pump.simulated);
  const Pump& outputs = site.stations[0].pump.value();
  EXPECT_EQ(std::get<ModbusOutput>(outputs.output.address).timed->holding, 16);
  EXPECT_TRUE(outputs.output.lapses_by_itself());
  EXPECT_TRUE(outputs.second_cutoff->lapses_by_itself());
}

TEST(Load, TakesEverythingOnASimulatedLinkAsSimulated) {
  const Site site =
      loaded(with(cellar, "timeout = \"300 ms\"", "timeout = \"300 ms\"\nsimulated = true"));
  EXPECT_TRUE(probe(site, 0).simulated);
  EXPECT_FALSE(probe(site, 1).simulated);  // MQTT: marked in each message
  EXPECT_TRUE(probe(site, 4).simulated);
  EXPECT_TRUE(site.stations[0].spec.pump->simulated);
  EXPECT_TRUE(site.stations[0].pump->output.simulated());
}

TEST(Load, GivesASlowlyPolledProbeThreeReadingsBeforeItIsStale) {
  const Site site = loaded(with(cellar, "every = \"2 s\"", "every = \"20 s\""));
  EXPECT_EQ(probe(site, 0).stale_after, 5s);
  EXPECT_EQ(probe(site, 1).stale_after, 30s);
  EXPECT_EQ(probe(site, 2).stale_after, 60s);
}

TEST(Load, TakesUncertaintyAsQuantityShareOrBoth) {
  const auto uncertainty = [](const std::string& written) {
    return probe(loaded(with(cellar, "temperature_from = \"bath\"",
                             "temperature_from = \"bath\"\nuncertainty = " + written)),
                 0)
        .uncertainty;
  };
  EXPECT_NEAR(uncertainty("\"50 uS/cm\"").absolute, 0.05, 1e-12);
  EXPECT_EQ(uncertainty("\"50 uS/cm\"").relative, 0.0);
  EXPECT_NEAR(uncertainty("\"0.5 %\"").relative, 0.005, 1e-12);
  EXPECT_NEAR(uncertainty("[\"0.02 mS/cm\", \"1 %\"]").absolute, 0.02, 1e-12);
  EXPECT_NEAR(uncertainty("[\"0.02 mS/cm\", \"1 %\"]").relative, 0.01, 1e-12);
}

TEST(Load, TakesDriftAndResolutionInTheUnitOfTheProbe) {
  const auto cell = [](const std::string& written) {
    return probe(loaded(with(cellar, "temperature_from = \"bath\"",
                             "temperature_from = \"bath\"\n" + written)),
                 0);
  };
  EXPECT_EQ(cell("").drift_per_day.relative, 0.0001) << "the default";
  EXPECT_EQ(cell("").resolution, 0.0);
  EXPECT_NEAR(cell("drift_per_day = \"0.02 %\"").drift_per_day.relative, 0.0002, 1e-12);
  EXPECT_NEAR(cell("drift_per_day = \"5 uS/cm\"").drift_per_day.absolute, 0.005, 1e-12);
  EXPECT_EQ(cell("drift_per_day = \"0 %\"").drift_per_day.relative, 0.0);
  EXPECT_NEAR(cell("resolution = \"10 uS/cm\"").resolution, 0.01, 1e-12);
}

TEST(Load, ReadsAMissingFileAndAFolderAsErrors) {
  EXPECT_THAT(all(load_file("/nonexistent/cellar.toml").errors),
              HasSubstr("/nonexistent/cellar.toml:1:1: cannot read the configuration"));
  EXPECT_THAT(all(load_file("/").errors), HasSubstr("it is a folder"));
}

TEST(Load, FindsEveryErrorAtOnceInTheOrderOfTheFile) {
  std::string text = with(cellar, "tolerance = \"1 ppt\"", "tolerence = \"1 ppt\"");
  text = with(text, "low_level = \"20 L\"", "low_level = 20");
  text = with(text, "order = \"CDAB\", ", "");
  text = with(text, "max_volume = \"60 L\"\n", "");
  const Loaded result = load_text(text, "cellar.toml");
  EXPECT_FALSE(result.site);
  EXPECT_EQ(
      all(result.errors),
      "cellar.toml:16:1: unknown key 'tolerence' in profile.reef: did you mean 'tolerance'?\n"
      "cellar.toml:23:13: 'low_level' is a whole number: expected text with a unit, such as "
      "low_level = \"10 L\"\n"
      "cellar.toml:27:54: 'order' is missing: a 32-bit value has no default order; write order = "
      "\"ABCD\", \"CDAB\", \"BADC\" or \"DCBA\" and verify it with two known values\n"
      "cellar.toml:44:1: 'max_volume' is missing in station.mixer.pump: write for example "
      "max_volume = \"60 L\"\n");
}

}  // namespace
}  // namespace brinegate::config
