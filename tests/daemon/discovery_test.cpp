// SPDX-License-Identifier: Apache-2.0
// What home automation is told: as its documentation asks, true to what the engine publishes, the
// same after an upgrade, and with nothing in it that could start the pump (H13).
#include "daemon/engine/discovery.h"

#include <functional>
#include <map>
#include <regex>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include "config/load.h"
#include "daemon/engine/request.h"
#include "tests/config/cellar.h"
#include "tests/daemon/discovery_rules.h"
#include "tests/safety/bench_engine.h"

namespace brinegate::daemon {
namespace {

using nlohmann::json;
using ::testing::Contains;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;

const std::string topic = "homeassistant/device/brinegate-cellar/mixer/config";

config::Site cellar() {
  const std::string text = config::with(config::cellar, "max_run = \"15 min\"\n",
                                        "max_run = \"15 min\"\nchange_button = \"12.5 L\"\n");
  return config::load_text(text, "cellar.toml").site.value();
}

json told_of(const config::Site& site, const std::string& version = "1.2.3") {
  return json::parse(dump(discovery(site.name, site.stations.at(0), version)));
}

// With everything that a station can have.
config::Site discovered_site() {
  config::Site site = exchange_site();
  site.mqtt = config::Mqtt{};
  site.mqtt->discovery = true;
  site.stations[0].pump->change_button = Litres(20.0);
  return site;
}

// As home automation does it when a button is pressed.
std::string pressed(const json& button, const std::string& time = "1790000000.25") {
  return std::regex_replace(button.at("cmd_tpl").get<std::string>(),
                            std::regex(R"(\{\{ now\(\)\.timestamp\(\) \}\})"), time);
}

TEST(Discovery, SaysWhatIsRecorded) {
  const json expected = json::parse(config::content_of("tests/daemon/discovery.json"));
  const json told = told_of(cellar());
  EXPECT_EQ(told, expected) << "now: " << told.dump(2);
}

TEST(Discovery, KeepsToTheDocumentation) {
  const auto example = config::load_text(config::content_of("config/example.toml"), "example.toml");
  for (const config::Site& site : {cellar(), *example.site, discovered_site()})
    for (const config::Station& station : site.stations) {
      const json told = json::parse(dump(discovery(site.name, station, "1.2.3")));
      const std::string where = discovery_topic(*site.mqtt, site.name, station.spec.name);
      EXPECT_THAT(DiscoveryRules().complaints(where, told), IsEmpty());
    }
}

TEST(Discovery, IsHeldAgainstRulesThatSeeEachSlip) {
  using Spoil = std::function<void(json&)>;
  const json good = told_of(cellar());
  const std::vector<Spoil> slips{
      [](json& told) { told.erase("o"); },
      [](json& told) { told["dev"].erase("ids"); },
      [](json& told) { told["dev"].erase("name"); },
      [](json& told) { told.erase("avty_mode"); },
      [](json& told) { told["avty"] = json::array(); },
      [](json& told) { told["cmps"]["two words"] = told["cmps"]["gate"]; },
      [](json& told) { told["cmps"]["gate"]["uniq_id"] = told["cmps"]["batch"]["uniq_id"]; },
      [](json& told) { told["cmps"]["gate"]["name"] = "cellar mixer gate"; },
      [](json& told) { told["cmps"]["gate"].erase("ops"); },
      [](json& told) { told["cmps"]["gate"].erase("stat_t"); },
      [](json& told) { told["cmps"]["gate"]["p"] = "switch"; },
      [](json& told) { told["cmps"]["temperature"]["unit_of_meas"] = "C"; },
      [](json& told) { told["cmps"]["temperature"].erase("exp_aft"); },
      [](json& told) { told["cmps"]["temperature"].erase("avty_mode"); },
      [](json& told) { told["cmps"]["salinity"]["dev_cla"] = "salinity"; },
      [](json& told) { told["cmps"]["alarm"]["dev_cla"] = "siren"; },
      [](json& told) { told["cmps"]["stop"]["ret"] = true; }};
  for (std::size_t i = 0; i < slips.size(); ++i) {
    json spoiled = good;
    slips[i](spoiled);
    EXPECT_THAT(DiscoveryRules().complaints(topic, spoiled), Not(IsEmpty())) << "slip " << i;
  }
  EXPECT_THAT(DiscoveryRules().complaints("homeassistant/device/my mixer/config", good),
              Not(IsEmpty()));
}

// Whoever must change a line here leaves every user with dead entities beside new ones.
TEST(Discovery, KeepsItsIdentitiesOverAnUpgrade) {
  const json told = told_of(cellar(), "2.0.0");
  EXPECT_EQ(discovery_topic(*cellar().mqtt, "cellar", "mixer"), topic);
  EXPECT_EQ(told["dev"]["ids"], json::array({"brinegate/cellar/mixer"}));
  std::vector<std::string> identities;
  for (const auto& component : told["cmps"])
    identities.push_back(component["uniq_id"]);
  EXPECT_THAT(identities,
              ::testing::UnorderedElementsAre(
                  "brinegate/cellar/mixer/alarm", "brinegate/cellar/mixer/answer",
                  "brinegate/cellar/mixer/batch", "brinegate/cellar/mixer/change",
                  "brinegate/cellar/mixer/conductivity-zz_cell", "brinegate/cellar/mixer/gate",
                  "brinegate/cellar/mixer/headline", "brinegate/cellar/mixer/leak-floor",
                  "brinegate/cellar/mixer/level-height", "brinegate/cellar/mixer/pump-readback",
                  "brinegate/cellar/mixer/salinity", "brinegate/cellar/mixer/stop",
                  "brinegate/cellar/mixer/temperature", "brinegate/cellar/mixer/temperature-bath",
                  "brinegate/cellar/mixer/volume"));
}

TEST(Discovery, TellsSitesAndStationsApartWhoseNamesJoinToTheSame) {
  const config::Mqtt mqtt;
  EXPECT_NE(discovery_topic(mqtt, "a-b", "c"), discovery_topic(mqtt, "a", "b-c"));
  config::Station one = bench_site().stations[0];
  one.spec.name = "c";
  config::Station other = one;
  other.spec.name = "b-c";
  EXPECT_NE(discovery("a-b", one, "1").at("dev"), discovery("a", other, "1").at("dev"));
}

TEST(Discovery, LetsAValueExpireAfterThreeThatWereMissed) {
  config::Site site = cellar();
  EXPECT_EQ(told_of(site)["cmps"]["volume"]["exp_aft"], 90);  // told again every 30 s
  std::get<config::ModbusSource>(site.stations[0].sources[2]).every = 5min;
  EXPECT_EQ(told_of(site)["cmps"]["volume"]["exp_aft"], 900);
  EXPECT_EQ(told_of(site)["cmps"]["level-height"]["exp_aft"], 900);
  EXPECT_EQ(told_of(site)["cmps"]["temperature"]["exp_aft"], 90);
}

// --- Beside what the engine really publishes -----------------------------------------------------

// The latest on each topic, as on the broker.
std::map<std::string, std::string> published(const BenchEngine& bench) {
  const std::string base = "brinegate/cellar/";
  std::map<std::string, std::string> told{{base + "status", "online"}};  // the session's
  for (const auto& [at, effect] : bench.effects()) {
    if (const auto* publish = std::get_if<Publish>(&effect))
      told[base + publish->topic] = publish->payload;
    if (const auto* reply = std::get_if<Reply>(&effect))
      told[base + "mixer/reply"] = reply->payload;
  }
  return told;
}

// Where in the message each value_json of a template stands.
std::vector<json::json_pointer> read_by(const std::string& value_template) {
  static const std::regex path(R"(value_json((?:\.\w+|\['[^']+'\])+))");
  static const std::regex step(R"(\.(\w+)|\['([^']+)'\])");
  std::vector<json::json_pointer> found;
  for (std::sregex_iterator at(value_template.begin(), value_template.end(), path), end; at != end;
       ++at) {
    const std::string steps = (*at)[1];
    json::json_pointer pointer;
    for (std::sregex_iterator each(steps.begin(), steps.end(), step); each != end; ++each)
      pointer /= (*each)[1].matched ? (*each)[1].str() : (*each)[2].str();
    found.push_back(pointer);
  }
  return found;
}

TEST(Discovery, SpeaksOnlyOfTopicsAndKeysThatThereAre) {
  const config::Site site = discovered_site();
  BenchEngine bench({}, BenchEngine::start(), site);
  bench.pass(30s);
  bench.request(R"({"id":"1","do":"stop"})", Origin::Network);
  const auto told = published(bench);
  const auto check = [&told](const json& of, const char* on, const char* by) {
    if (!of.contains(on))
      return;
    ASSERT_THAT(told, Contains(::testing::Key(of.at(on).get<std::string>())));
    const std::string& payload = told.at(of.at(on));
    for (const auto& pointer : read_by(of.value(by, "")))
      EXPECT_TRUE(json::parse(payload).contains(pointer))
          << pointer.to_string() << " in " << payload;
  };
  const json announced = told_of(site);
  check(announced["avty"][0], "t", "val_tpl");
  std::size_t templates = 0;
  for (const auto& component : announced["cmps"]) {
    check(component, "stat_t", "val_tpl");
    check(component, "json_attr_t", "json_attr_tpl");
    for (const auto& availability : component.value("avty", json::array()))
      check(availability, "t", "val_tpl");
    templates += read_by(component.value("val_tpl", "")).size();
  }
  EXPECT_GT(templates, site.stations[0].spec.probes.size());
  const json state = json::parse(told.at("brinegate/cellar/mixer/state"));
  EXPECT_THAT(announced["cmps"]["batch"]["ops"], Contains(state["phase"]));
  EXPECT_THAT(announced["cmps"]["gate"]["ops"], Contains(told.at("brinegate/cellar/mixer/gate")));
}

TEST(Discovery, PromisesNoFasterWordThanTheEngineGives) {
  BenchEngine bench({}, BenchEngine::start(), discovered_site());
  bench.pass(1min);
  bench.forget();
  bench.pass(10min);  // in which nothing moves
  std::map<std::string, std::vector<MonoTime>> told;
  for (const auto& [at, effect] : bench.effects())
    if (const auto* publish = std::get_if<Publish>(&effect))
      told[publish->topic].push_back(at);
  for (const char* name : {"state", "salinity", "temperature", "volume"}) {
    const auto& times = told[std::string("mixer/") + name];
    ASSERT_GT(times.size(), 10U) << name;
    for (std::size_t i = 1; i < times.size(); ++i)
      EXPECT_LE(times[i] - times[i - 1], 30s + bench.turn()) << name;
  }
}

TEST(Discovery, AContactThatChangesIsToldAtOnce) {
  BenchEngine bench({}, BenchEngine::start(), discovered_site());
  bench.pass(65s);
  bench.forget();
  bench.shown[BenchEngine::circulation] = 0.0;
  bench.pass(2s);
  const json state = json::parse(published(bench).at("brinegate/cellar/mixer/state"));
  EXPECT_EQ(state["readings"]["circulation"]["value"], 0.0);
}

// --- H13: nothing that could start the pump ------------------------------------------------------

config::Site any_site() {
  config::Site site = *rc::gen::element(bench_site(), exchange_site());
  site.mqtt = config::Mqtt{};
  const auto name = [] {
    return *rc::gen::nonEmpty(
        rc::gen::container<std::string>(rc::gen::element('a', 'z', '0', '9', '_', '-')));
  };
  site.name = name();
  config::Station& station = site.stations[0];
  station.spec.name = name();
  for (ProbeSpec& probe : station.spec.probes) {
    probe.name = name();
    probe.measures =
        static_cast<Measures>(*rc::gen::inRange(0, static_cast<int>(Measures::DrainRunning) + 1));
  }
  station.pump->output.address = config::MqttOutput{name() + "/set", "on {seconds}", "off"};
  station.spec.pump->permit = *rc::gen::element(PermitMode::PerChange, PermitMode::WhileProven);
  if (*rc::gen::arbitrary<bool>())
    station.pump->change_button = Litres(*rc::gen::inRange(1, 6000) / 100.0);
  if (*rc::gen::inRange(0, 4) == 0)
    station.pump.reset();
  return site;
}

RC_GTEST_PROP(Discovery, GivesNothingThatDrivesThePumpPastTheChecks, ()) {
  const config::Site site = any_site();
  const config::Station& station = site.stations[0];
  const bool is_asked = station.pump && station.spec.pump->permit == PermitMode::PerChange;
  const json told = told_of(site);
  for (const auto& [key, component] : told.at("cmps").items()) {
    const std::string platform = component.at("p");
    RC_ASSERT(platform == "sensor" || platform == "binary_sensor" || platform == "button");
    for (const auto& [option, value] : component.items())
      RC_ASSERT(platform == "button" || option.find("cmd") == std::string::npos);
    if (platform != "button")
      continue;
    RC_ASSERT(is_asked);
    RC_ASSERT(component.at("cmd_t") ==
              "brinegate/" + site.name + "/" + station.spec.name + "/request");
    const auto request = parse_request(pressed(component));
    RC_ASSERT(request.ok() && !request->id.empty());
    const auto* change = std::get_if<AskChange>(&request->act);
    RC_ASSERT(change != nullptr || std::holds_alternative<StopChange>(request->act));
    if (change != nullptr)
      RC_ASSERT(change->volume == station.pump->change_button.value());
  }
}

TEST(Discovery, APressedButtonIsRefusedWithTheReasonWhileNothingIsProven) {
  const config::Site site = discovered_site();
  const json buttons = told_of(site)["cmps"];
  BenchEngine bench({}, BenchEngine::start(), site);
  bench.pass(30s);
  const json refused = bench.request(pressed(buttons["change"]), Origin::Network);
  EXPECT_EQ(refused["ok"], false);
  EXPECT_THAT(refused["message"].get<std::string>(), HasSubstr("Refused"));
  EXPECT_FALSE(refused["reasons"].empty());
  bench.pass(1min);
  EXPECT_FALSE(bench.pump_on());
}

TEST(Discovery, APressedButtonAsksAndStopsWhereEverythingIsProven) {
  const config::Site site = discovered_site();
  const json buttons = told_of(site)["cmps"];
  BenchEngine bench({}, BenchEngine::start(), site);
  bench.prove();
  const json asked = bench.request(pressed(buttons["change"], "1.25"), Origin::Network);
  EXPECT_EQ(asked["ok"], true) << asked;
  const json stopped = bench.request(pressed(buttons["stop"], "2.5"), Origin::Network);
  EXPECT_EQ(stopped["ok"], true) << stopped;
  // Another press is another request, and not the first one's answer again.
  const json again = bench.request(pressed(buttons["stop"], "3.5"), Origin::Network);
  EXPECT_EQ(again["ok"], false) << again;
}

}  // namespace
}  // namespace brinegate::daemon
