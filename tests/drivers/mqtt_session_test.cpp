// SPDX-License-Identifier: Apache-2.0
// The MQTT session against a real broker (mosquitto) that is killed, frozen and restarted, with the
// broker's own command line clients as the other side.
#include "drivers/mqtt_session.h"

#include <algorithm>
#include <condition_variable>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <memory>
#include <mutex>
#include <optional>
#include <thread>

#include <gtest/gtest.h>

#include "drivers/clock.h"
#include "tests/drivers/mqtt_bench.h"
#include "tests/temporary_folder.h"

namespace brinegate::drivers {
namespace {

TEST(MqttSession, ReadsNumbersAndJson) {
  const Broker broker;
  Hearing hearing(broker.address());
  ASSERT_TRUE(hearing.wait_for_connections(1));
  EXPECT_TRUE(hearing.session.stats().version_5);
  say(broker, "cellar/bath", "25.1");
  say(broker, "cellar/height", R"({"cm": 41, "at": 1924000000, "simulated": true})");
  ASSERT_TRUE(hearing.sink.wait_for_value(bath, 25.1));
  ASSERT_TRUE(hearing.sink.wait_for_value(height, 41.0));
  const Sample sample = hearing.sink.samples(height).back();
  EXPECT_EQ(sample.source_time, WallTime{1924000000s});
  EXPECT_TRUE(sample.simulated);
  EXPECT_FALSE(hearing.sink.samples(bath).back().simulated);
  say(broker, "cellar/bath", "warm");
  EXPECT_TRUE(hearing.sink.wait_for_fault(bath, SampleFault::Unparsable));
}

TEST(MqttSession, MarksAReplayedValueAndOnlyThat) {
  const Broker broker;
  say(broker, "cellar/bath", "24.5", {"-r"});
  Hearing hearing(broker.address());
  ASSERT_TRUE(hearing.sink.wait_for_value(bath, 24.5));
  EXPECT_TRUE(hearing.sink.samples(bath).back().retained);
  // Published just now with the retain flag for others: fresh for us.
  say(broker, "cellar/bath", "24.6", {"-r"});
  ASSERT_TRUE(hearing.sink.wait_for_value(bath, 24.6));
  EXPECT_FALSE(hearing.sink.samples(bath).back().retained);
}

TEST(MqttSession, SaysOnlineAndOffline) {
  const Broker broker;
  Listener listener(broker, "brinegate/cellar/status");
  {
    Hearing hearing(broker.address());
    EXPECT_EQ(listener.next(), "0 brinegate/cellar/status online");
  }
  EXPECT_EQ(listener.next(), "0 brinegate/cellar/status offline");
  Listener late(broker, "brinegate/cellar/status");
  EXPECT_EQ(late.next(), "1 brinegate/cellar/status offline");
}

// Run in a process of its own by the next test, which kills it.
TEST(MqttSession, OnceTheNextTestAsksStaysConnectedUntilItIsKilled) {
  const char* port = std::getenv("BRINEGATE_TEST_BROKER_PORT");
  if (port == nullptr)
    return;
  config::Mqtt mqtt;
  mqtt.broker = std::string("mqtt://127.0.0.1:") + port;
  Hearing hearing(mqtt);
  std::this_thread::sleep_for(60s);
}

TEST(MqttSession, TheBrokerSaysOfflineForADaemonThatDied) {
  const Broker broker;
  Listener listener(broker, "brinegate/cellar/status");
  PeerProcess daemon({"env", "BRINEGATE_TEST_BROKER_PORT=" + broker.port_text(),
                      std::filesystem::read_symlink("/proc/self/exe").string(),
                      "--gtest_filter=*UntilItIsKilled"});
  EXPECT_EQ(listener.next(), "0 brinegate/cellar/status online");
  daemon.kill();
  EXPECT_EQ(listener.next(), "0 brinegate/cellar/status offline");
}

TEST(MqttSession, HandsRequestsOverWithTheirMarks) {
  const Broker broker;
  Hearing hearing(broker.address());
  ASSERT_TRUE(hearing.wait_for_connections(1));
  const std::string topic = "brinegate/cellar/mixer/request";
  say(broker, topic, R"({"id": "1"})");
  auto request = hearing.next_request();
  ASSERT_TRUE(request);
  EXPECT_EQ(request->station, "mixer");
  EXPECT_EQ(request->payload, R"({"id": "1"})");
  EXPECT_FALSE(request->retained);
  EXPECT_FALSE(request->beyond_limits);

  say(broker, topic, R"({"id": "2"})", {"-r"});
  request = hearing.next_request();
  ASSERT_TRUE(request);
  EXPECT_TRUE(request->retained);

  say(broker, topic, std::string(20'000, '7'));
  request = hearing.next_request();
  ASSERT_TRUE(request);
  EXPECT_TRUE(request->beyond_limits);
  EXPECT_TRUE(request->payload.empty());

  say(broker, topic, std::string(200, '['));
  request = hearing.next_request();
  ASSERT_TRUE(request);
  EXPECT_TRUE(request->beyond_limits);
}

TEST(MqttSession, AnswersToTheResponseTopicButNeverOntoTheTopicOfAnOutput) {
  const Broker broker;
  Hearing hearing(broker.address(), {plug()});
  ASSERT_TRUE(hearing.wait_for_connections(1));
  Listener listener(broker, "asker/answer");
  const auto ask = [&](const std::string& response_topic) {
    say(broker, "brinegate/cellar/mixer/request", "{}",
        {"-V", "5", "-D", "publish", "response-topic", response_topic, "-D", "publish",
         "correlation-data", "c7"});
    return hearing.next_request().value_or(MqttRequest{});
  };
  const MqttRequest request = ask("asker/answer");
  EXPECT_EQ(request.correlation, "c7");
  EXPECT_TRUE(hearing.session.respond(request, "done"));
  EXPECT_EQ(listener.next(), "0 asker/answer done");
  for (const char* steered :
       {"cellar/plug/set", "cellar/bath", "brinegate/cellar/mixer/gate", "homeassistant/status",
        "homeassistant/device/brinegate-cellar/mixer/config"}) {
    EXPECT_FALSE(hearing.session.respond(ask(steered), "on 9")) << steered;
  }
}

TEST(MqttSession, HearsThatHomeAutomationHasStartedAndOnlyThat) {
  const Broker broker;
  config::Mqtt mqtt = broker.address();
  mqtt.discovery = true;
  mqtt.birth_topic = "house/status";
  mqtt.birth_payload = "here";
  say(broker, "house/status", "here", {"-r"});  // long ago
  Hearing hearing(mqtt);
  ASSERT_TRUE(hearing.wait_for_connections(1));
  say(broker, "house/status", "gone");
  say(broker, "house/other", "here");
  say(broker, "brinegate/cellar/mixer/request", "{}");  // comes after all that
  ASSERT_TRUE(hearing.next_request());
  EXPECT_EQ(hearing.births, 0);
  say(broker, "house/status", "here");
  say(broker, "brinegate/cellar/mixer/request", "{}");
  ASSERT_TRUE(hearing.next_request());
  EXPECT_EQ(hearing.births, 1);
}

TEST(MqttSession, ConfirmsOutputsAndGivesWhatIsLeftOfTheLease) {
  const Broker broker;
  Listener device(broker, "cellar/plug/set");
  Hearing hearing(broker.address(), {plug()});
  EXPECT_EQ(device.next(), "0 cellar/plug/set off");
  EXPECT_TRUE(hearing.sink.wait_for_report(false, SampleFault::None));
  hearing.session.drive(pump, monotonic_now() + 1500ms);
  EXPECT_EQ(device.next(), "0 cellar/plug/set on 1.4");
  EXPECT_TRUE(hearing.sink.wait_for_report(true, SampleFault::None));
  // Not renewed: off at its end.
  hearing.sink.forget();
  EXPECT_EQ(device.next(), "0 cellar/plug/set off");
  EXPECT_TRUE(hearing.sink.wait_for_report(false, SampleFault::None));
}

TEST(MqttSession, ABrokerThatIsKilledAndRestartedIsFoundAgainAndSubscribedAnew) {
  auto broker = std::make_unique<Broker>();
  const std::uint16_t port = broker->port();
  Hearing hearing(broker->address(), {plug()});
  ASSERT_TRUE(hearing.wait_for_connections(1));
  say(*broker, "cellar/bath", "25.1");
  ASSERT_TRUE(hearing.sink.wait_for_value(bath, 25.1));
  hearing.sink.forget();
  broker.reset();
  EXPECT_TRUE(hearing.sink.wait_for_fault(bath, SampleFault::NotConnected));
  EXPECT_TRUE(hearing.sink.wait_for_fault(height, SampleFault::NotConnected));
  EXPECT_FALSE(hearing.session.publish("brinegate/cellar/mixer/gate", "shut", true));

  // An "on" asked for while there is no broker is dropped at its end and never sent.
  hearing.session.drive(pump, monotonic_now() + 400ms);
  EXPECT_TRUE(hearing.sink.wait_for_report(true, SampleFault::NotConnected));
  std::this_thread::sleep_for(500ms);

  const Broker restarted(port);
  Listener device(restarted, "cellar/plug/set");
  ASSERT_TRUE(hearing.wait_for_connections(2));
  EXPECT_EQ(device.next(), "0 cellar/plug/set off");
  say(restarted, "cellar/bath", "25.2");
  EXPECT_TRUE(hearing.sink.wait_for_value(bath, 25.2));
  EXPECT_TRUE(hearing.session.publish("brinegate/cellar/mixer/gate", "shut", true));
}

TEST(MqttSession, AFrozenBrokerIsNoticedAndPublishingNeverBlocks) {
  Broker broker;
  Hearing hearing(broker.address());
  ASSERT_TRUE(hearing.wait_for_connections(1));
  broker.process().freeze();
  hearing.sink.forget();
  const auto begin = std::chrono::steady_clock::now();
  for (int i = 0; i < 5000; ++i) {
    hearing.session.publish("brinegate/cellar/mixer/state", std::string(1000, 'x'), true);
  }
  EXPECT_LT(std::chrono::steady_clock::now() - begin, 3s);
  EXPECT_GT(hearing.session.stats().publications_dropped, 0U);
  EXPECT_TRUE(hearing.sink.wait_for_fault(bath, SampleFault::NotConnected));
  broker.process().thaw();
  EXPECT_TRUE(hearing.wait_for_connections(2));
}

TEST(MqttSession, NoBrokerIsAFaultAndClosingIsQuick) {
  config::Mqtt nowhere;
  nowhere.broker = "mqtt://127.0.0.1:" + std::to_string(free_loopback_port());
  Hearing hearing(nowhere, {plug()});
  EXPECT_EQ(hearing.first_troubles(), std::vector{config::BrokerTrouble::NobodyAnswers});
  EXPECT_TRUE(hearing.sink.wait_for_fault(bath, SampleFault::NotConnected));
  EXPECT_TRUE(hearing.sink.wait_for_report(false, SampleFault::NotConnected));
}

// A broker of MQTT 3.1.1 only, of bytes (CONNACK and SUBACK as in sections 3.2 and 3.9 of the
// standard): refuses level 5 with return code 1, takes level 4, and sends one reading.
TEST(MqttSession, FallsBackToMqtt311WhereTheBrokerKnowsNoOther) {
  PeerProcess broker({"/usr/bin/python3", BRINEGATE_SOURCE_DIR "/tests/peers/mqtt_311_broker.py"});
  config::Mqtt mqtt;
  mqtt.broker = "mqtt://127.0.0.1:" + broker.line();
  Hearing hearing(mqtt);
  EXPECT_TRUE(hearing.sink.wait_for_value(bath, 25.1));
  ASSERT_TRUE(hearing.wait_for_connections(1));
  EXPECT_FALSE(hearing.session.stats().version_5);
}

TEST(MqttSession, TakesTheUserAndThePasswordFromItsFile) {
  const TemporaryFolder folder;
  const std::string port = std::to_string(free_loopback_port());
  ASSERT_EQ(
      PeerProcess({"mosquitto_passwd", "-b", "-c", folder.file("users"), "keeper", "reef"}).wait(),
      0);
  folder.open_for_other_users();
  std::ofstream(folder.file("broker.conf")) << "listener " << port << " 127.0.0.1\n"
                                            << "allow_anonymous false\npersistence false\n"
                                            << "password_file " << folder.file("users") << "\n";
  std::ofstream(folder.file("password")) << "reef\n";
  const PeerProcess broker({"/usr/sbin/mosquitto", "-c", folder.file("broker.conf")});
  ASSERT_TRUE(wait_until_listening(static_cast<std::uint16_t>(std::stoi(port))));
  config::Mqtt mqtt;
  mqtt.broker = "mqtt://127.0.0.1:" + port;
  mqtt.username = "keeper";
  mqtt.password_file = folder.file("password");
  {
    Hearing hearing(mqtt);
    EXPECT_TRUE(hearing.wait_for_connections(1));
  }
  mqtt.password_file = folder.file("absent");
  Hearing hearing(mqtt);
  EXPECT_EQ(hearing.first_troubles(), std::vector{config::BrokerTrouble::RefusesUs});
  EXPECT_FALSE(hearing.session.stats().connected);
}

}  // namespace
}  // namespace brinegate::drivers
