// SPDX-License-Identifier: Apache-2.0
// A broker (mosquitto), its command line clients, and a session of ours whose every word is kept.
#pragma once

#include <algorithm>
#include <atomic>
#include <condition_variable>
#include <cstdint>
#include <mutex>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include <gtest/gtest.h>

#include "drivers/mqtt_session.h"
#include "tests/drivers/peer_process.h"
#include "tests/drivers/recording_sink.h"

namespace brinegate::drivers {

using namespace std::chrono_literals;

inline constexpr ProbeKey bath{0, 0};
inline constexpr ProbeKey height{0, 1};
inline constexpr OutputKey pump{0, OutputRole::Pump};

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

inline void say(const Broker& broker, const std::string& topic, const std::string& payload,
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

inline std::vector<MqttProbe> probes() {
  config::MqttSource number;
  number.topic = "cellar/bath";
  config::MqttSource json;
  json.topic = "cellar/height";
  json.pointer = "/cm";
  json.time_pointer = "/at";
  json.simulated_pointer = "/simulated";
  return {{bath, number, false}, {height, json, false}};
}

inline MqttSwitch plug() {
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
                 },
                 [this](config::BrokerTrouble trouble) {
                   const std::lock_guard lock(mutex_);
                   troubles_.push_back(trouble);
                   changed_.notify_all();
                 },
                 [this] { ++births; }}) {
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
  // All that were told until then, or nothing within the time.
  std::vector<config::BrokerTrouble> first_troubles() {
    std::unique_lock lock(mutex_);
    changed_.wait_until(lock, std::chrono::system_clock::now() + 20s,
                        [&] { return !troubles_.empty(); });
    return troubles_;
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
  std::atomic<int> births = 0;

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
  std::vector<config::BrokerTrouble> troubles_;

 public:
  MqttSession session;
};

}  // namespace brinegate::drivers
