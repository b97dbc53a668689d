// SPDX-License-Identifier: Apache-2.0
// When home automation is told, told again, and told that something is gone, over restarts and new
// configurations too.
#include "daemon/engine/announcer.h"

#include <algorithm>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/safety/bench_engine.h"

namespace brinegate::daemon {
namespace {

using nlohmann::json;
using ::testing::ElementsAre;
using ::testing::IsEmpty;
using ::testing::SizeIs;

const std::string mixer = "homeassistant/device/brinegate-cellar/mixer/config";
const std::string drip = "homeassistant/device/brinegate-cellar/drip/config";

config::Site site(const std::vector<std::string>& names, bool discovery = true) {
  config::Site site = bench_site();
  site.mqtt = config::Mqtt{};
  site.mqtt->discovery = discovery;
  const config::Station station = site.stations[0];
  site.stations.clear();
  for (const std::string& name : names) {
    site.stations.push_back(station);
    site.stations.back().spec.name = name;
  }
  return site;
}

std::vector<Announce> announced(const BenchEngine& bench) {
  std::vector<Announce> found;
  for (const auto& [at, effect] : bench.effects())
    if (const auto* announce = std::get_if<Announce>(&effect))
      found.push_back(*announce);
  return found;
}

std::vector<std::string> topics_of(const std::vector<Announce>& announced, bool empty) {
  std::vector<std::string> topics;
  for (const Announce& each : announced)
    if (each.payload.empty() == empty)
      topics.push_back(each.topic);
  return topics;
}

// Of what is kept in the store for the next daemon: what is put there, or what is taken out.
std::vector<std::string> stored(const BenchEngine& bench, bool taken_out) {
  std::vector<std::string> topics;
  for (const auto& [at, effect] : bench.effects())
    if (const auto* append = std::get_if<Append>(&effect))
      for (const StoredState& state : append->states)
        if (state.table == Announcer::table && state.body.empty() == taken_out)
          topics.push_back(state.key);
  return topics;
}
std::vector<std::string> forgotten(const BenchEngine& bench) {
  return stored(bench, /*taken_out=*/true);
}

// A daemon that finds its broker.
BenchEngine& connect(BenchEngine& bench) {
  bench.pass(bench.turn());
  bench.forget();
  bench.send(BrokerChanged{true});
  bench.pass(bench.turn());
  return bench;
}

RestoredStates left_by_a_daemon_with(const std::vector<std::string>& names) {
  BenchEngine before({}, BenchEngine::start(), site(names));
  connect(before).pass(1s);
  return before.stored();
}

TEST(Announcer, AnnouncesWithTheConnectionAndTellsTheStateAfter) {
  BenchEngine bench({}, BenchEngine::start(), site({"mixer"}));
  connect(bench);
  std::vector<std::string> topics;
  for (const auto& [at, effect] : bench.effects()) {
    if (const auto* announce = std::get_if<Announce>(&effect))
      topics.push_back(announce->topic);
    if (const auto* publish = std::get_if<Publish>(&effect))
      topics.push_back(publish->topic);
  }
  EXPECT_THAT(topics, ElementsAre(mixer, "mixer/gate", "mixer/state", "mixer/salinity",
                                  "mixer/temperature", "mixer/volume"));
}

TEST(Announcer, TellsAllAgainWhenHomeAutomationHasStarted) {
  BenchEngine bench({}, BenchEngine::start(), site({"mixer"}));
  connect(bench).pass(5s);
  bench.forget();
  bench.send(HomeAutomationStarted{});
  bench.pass(bench.turn());
  EXPECT_THAT(announced(bench), SizeIs(1));
  const auto says = [&bench](const std::string& topic) {
    return std::any_of(bench.effects().begin(), bench.effects().end(), [&](const auto& each) {
      const auto* publish = std::get_if<Publish>(&each.effect);
      return publish != nullptr && publish->topic == topic;
    });
  };
  for (const char* topic : {"status", "mixer/gate", "mixer/state", "mixer/temperature"})
    EXPECT_TRUE(says(topic)) << topic;
}

TEST(Announcer, SaysNothingWhereNobodyWantsIt) {
  BenchEngine bench({}, BenchEngine::start(), site({"mixer"}, /*discovery=*/false));
  connect(bench);
  bench.send(HomeAutomationStarted{});
  bench.pass(1min);
  EXPECT_THAT(announced(bench), IsEmpty());
  EXPECT_THAT(stored(bench, /*taken_out=*/false), IsEmpty());
}

TEST(Announcer, TakesAStationBackThatIsNoLongerConfigured) {
  BenchEngine bench(left_by_a_daemon_with({"mixer", "drip"}), BenchEngine::start(),
                    site({"mixer"}));
  connect(bench);
  EXPECT_THAT(topics_of(announced(bench), true), ElementsAre(drip));
  EXPECT_THAT(topics_of(announced(bench), false), ElementsAre(mixer));
  bench.pass(1min);
  EXPECT_THAT(forgotten(bench), ElementsAre(drip));
}

TEST(Announcer, TakesEverythingBackWhenItIsTurnedOff) {
  BenchEngine bench(left_by_a_daemon_with({"mixer", "drip"}), BenchEngine::start(),
                    site({"mixer", "drip"}, /*discovery=*/false));
  connect(bench);
  EXPECT_THAT(topics_of(announced(bench), true), ElementsAre(drip, mixer));
  bench.pass(1min);
  EXPECT_THAT(forgotten(bench), ElementsAre(drip, mixer));
}

TEST(Announcer, TakesBackWhatStandsBelowAnotherPrefix) {
  config::Site moved = site({"mixer"});
  moved.mqtt->discovery_prefix = "house";
  BenchEngine bench(left_by_a_daemon_with({"mixer"}), BenchEngine::start(), moved);
  connect(bench);
  EXPECT_THAT(topics_of(announced(bench), true), ElementsAre(mixer));
  EXPECT_THAT(topics_of(announced(bench), false),
              ElementsAre("house/device/brinegate-cellar/mixer/config"));
}

TEST(Announcer, ForgetsOnlyWhatHasSurelyArrived) {
  BenchEngine bench(left_by_a_daemon_with({"mixer", "drip"}), BenchEngine::start(),
                    site({"mixer"}));
  bench.pass(2min);  // without a broker
  EXPECT_THAT(forgotten(bench), IsEmpty());
  connect(bench).pass(10s);
  bench.send(BrokerChanged{false});
  bench.send(HomeAutomationStarted{});  // heard before
  bench.pass(2min);
  EXPECT_THAT(forgotten(bench), IsEmpty());
  connect(bench);
  EXPECT_THAT(topics_of(announced(bench), true), ElementsAre(drip)) << "once more";
  bench.pass(1min);
  EXPECT_THAT(forgotten(bench), ElementsAre(drip));
}

TEST(Announcer, TakesAProbeBackByItsPlatformAloneAndThenByLeavingItOut) {
  config::Site without_leak = site({"mixer"});
  without_leak.stations[0].spec.probes.pop_back();
  without_leak.stations[0].sources.pop_back();
  BenchEngine bench(left_by_a_daemon_with({"mixer"}), BenchEngine::start(), without_leak);
  connect(bench);
  const auto told = announced(bench);
  ASSERT_THAT(told, SizeIs(2));
  const json first = json::parse(told[0].payload).at("cmps");
  EXPECT_EQ(first.at("leak-floor"), json({{"p", "binary_sensor"}}));
  EXPECT_TRUE(first.at("temperature").contains("stat_t"));
  EXPECT_FALSE(json::parse(told[1].payload).at("cmps").contains("leak-floor"));

  bench.pass(1min);  // by then it is gone for good
  EXPECT_THAT(announced(connect(bench)), SizeIs(1));
}

TEST(Announcer, SpreadsManyStationsOverSeveralTurns) {
  std::vector<std::string> names;
  for (int i = 0; i < 45; ++i)
    names.push_back("mixer" + std::to_string(i));
  BenchEngine bench({}, BenchEngine::start(), site(names));
  connect(bench);
  EXPECT_THAT(announced(bench), SizeIs(20));
  bench.pass(1s);
  EXPECT_THAT(announced(bench), SizeIs(45));
}

TEST(Announcer, RefusesAStoreThatItCannotRead) {
  for (const char* body : {"[", "[]", R"({"gate": 1})"})
    EXPECT_FALSE(Engine::create(site({"mixer"}), {{Announcer::table, mixer, "mixer", body}},
                                BenchEngine::start())
                     .ok());
}

}  // namespace
}  // namespace brinegate::daemon
