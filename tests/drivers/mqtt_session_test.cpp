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
#include "tests/drivers/peer_process.h"
#include "tests/drivers/recording_sink.h"
#include "tests/temporary_folder.h"

namespace brinegate::drivers {
namespace {

using namespace std::chrono_literals;

constexpr ProbeKey bath{0, 0};
constexpr ProbeKey height{0, 1};
constexpr OutputKey pump{0, OutputRole::Pump};

class Broker {
 public:
  explicit Broker(std::uint16_t port = free_loopback_port())
      : port_(port), process_({"/usr/sbin/mosquitto", "-p", std::to_string(port)}) {
    EXPECT_TRUE(wait_until_listening(port));
  }
  [[nodiscard]] std::uint16_t port() const { return port_; }
  [[nodiscard]] config::Mqtt address() const {
    config::Mqtt mqtt;
    mqtt.broker = "mqtt://127.0.0.1:" + std::to_string(port_);
    return mqtt;
  }
  [[nodiscard]] std::string port_text() const { return std::to_string(port_); }
  PeerProcess& process() { return process_; }

 private:
  std::uint16_t port_;
  PeerProcess process_;
};

void say(const Broker& broker, const std::string& topic, const std::string& payload,
         std::vector<std::string> more = {}) {
  std::vector<std::string> command{
      "mosquitto_pub", "-p", broker.port_text(), "-t", topic, "-q", "1", "-m", payload};
  command.insert(command.end(), more.begin(), more.end());
  EXPECT_EQ(PeerProcess(command).wait(), 0);
}

// Another client that prints "retained topic payload" for each message.
class Listener {
 public:
  Listener(const Broker& broker, const std::string& topic)
      : process_({"mosquitto_sub", "-p", broker.port_text(), "-q", "1", "-V", "5", "-F", "%r %t %p",
                  "-t", topic, "-t", "listening/now"}) {
    say(broker, "listening/now", "yes", {"-r"});
    for (std::string line = process_.line(); line.find("listening/now") == std::string::npos;
         line = process_.line()) {
      if (line.empty()) {
        ADD_FAILURE() << "the listener does not listen";
        return;
      }
      early_.push_back(line);
    }
  }
  std::string next() {
    while (early_.empty()) {
      const std::string line = process_.line();
      if (line.find("listening/now") == std::string::npos) {
        return line;
      }
    }
    const std::string line = early_.front();
    early_.erase(early_.begin());
    return line;
  }

 private:
  PeerProcess process_;
  std::vector<std::string> early_;  // replayed before the listener was known to listen
};

std::vector<MqttProbe> probes() {
  config::MqttSource number;
  number.topic = "cellar/bath";
  config::MqttSource json;
  json.topic = "cellar/height";
  json.pointer = "/cm";
  json.time_pointer = "/at";
  json.simulated_pointer = "/simulated";
  return {{bath, number, false}, {height, json, false}};
}

MqttSwitch plug() {
  config::MqttOutput output;
  output.topic = "cellar/plug/set";
  output.on = "on {seconds}";
  output.off = "off";
  return {pump, output};
}

// A session with everything that it says kept.
class Hearing {
 public:
  explicit Hearing(const config::Mqtt& mqtt, std::vector<MqttSwitch> switches = {})
      : session(mqtt, "cellar", probes(), std::move(switches), sink,
                {[this](const MqttRequest& request) { push(request); },
                 [this](bool connected) {
                   const std::lock_guard lock(mutex_);
                   connections_.push_back(connected);
                   changed_.notify_all();
                 }}) {
    session.open();
  }
  ~Hearing() { session.close(); }
  Hearing(const Hearing&) = delete;
  Hearing& operator=(const Hearing&) = delete;

  bool wait_for_connections(std::size_t count) {
    std::unique_lock lock(mutex_);
    return changed_.wait_until(lock, std::chrono::system_clock::now() + 30s, [&] {
      return std::count(connections_.begin(), connections_.end(), true) >=
             static_cast<std::ptrdiff_t>(count);
    });
  }
  std::optional<MqttRequest> next_request(std::chrono::milliseconds at_most = 10s) {
    std::unique_lock lock(mutex_);
    if (!changed_.wait_until(lock, std::chrono::system_clock::now() + at_most,
                             [&] { return !requests_.empty(); })) {
      return std::nullopt;
    }
    MqttRequest request = requests_.front();
    requests_.erase(requests_.begin());
    return request;
  }

  RecordingSink sink;

 private:
  void push(const MqttRequest& request) {
    const std::lock_guard lock(mutex_);
    requests_.push_back(request);
    changed_.notify_all();
  }
  std::mutex mutex_;
  std::condition_variable changed_;
  std::vector<MqttRequest> requests_;
  std::vector<bool> connections_;

 public:
  MqttSession session;
};

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
  for (const char* steered : {"cellar/plug/set", "cellar/bath", "brinegate/cellar/mixer/gate"}) {
    EXPECT_FALSE(hearing.session.respond(ask(steered), "on 9")) << steered;
  }
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

// A certificate authority of our own stands in for the system's (OpenSSL reads SSL_CERT_FILE). The
// broker's certificate is for "localhost", so by its number it is another host.
TEST(MqttSession, TakesACertificateOnlyForTheHostThatWasAskedFor) {
  const TemporaryFolder folder;
  ASSERT_EQ(PeerProcess({"openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2",
                         "-subj", "/CN=localhost", "-addext", "subjectAltName=DNS:localhost",
                         "-keyout", folder.file("key"), "-out", folder.file("certificate")})
                .wait(),
            0);
  folder.open_for_other_users();
  const std::uint16_t port = free_loopback_port();
  std::ofstream(folder.file("broker.conf"))
      << "listener " << port << " 127.0.0.1\nallow_anonymous true\npersistence false\n"
      << "certfile " << folder.file("certificate") << "\nkeyfile " << folder.file("key") << "\n";
  const PeerProcess broker({"/usr/sbin/mosquitto", "-c", folder.file("broker.conf")});
  ASSERT_TRUE(wait_until_listening(port));
  ASSERT_EQ(::setenv("SSL_CERT_FILE", folder.file("certificate").c_str(), 1), 0);
  config::Mqtt mqtt;
  mqtt.broker = "mqtts://localhost:" + std::to_string(port);
  {
    Hearing hearing(mqtt);
    EXPECT_TRUE(hearing.wait_for_connections(1));
  }
  mqtt.broker = "mqtts://127.0.0.1:" + std::to_string(port);
  Hearing hearing(mqtt);
  std::this_thread::sleep_for(3s);  // several attempts
  EXPECT_EQ(hearing.session.stats().connections, 0U);
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
  EXPECT_TRUE(hearing.sink.wait_for_fault(bath, SampleFault::NotConnected));
  EXPECT_FALSE(hearing.session.stats().connected);
}

}  // namespace
}  // namespace brinegate::drivers
