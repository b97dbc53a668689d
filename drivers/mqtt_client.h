// SPDX-License-Identifier: Apache-2.0
// One MQTT client object of one protocol version, as the session needs it: nothing is buffered for
// later, nothing is thrown, and the library's types stay inside.
#pragma once

#include <atomic>
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "config/advice_broker.h"
#include "config/model.h"
#include "rules/reading.h"
#include "rules/time.h"

namespace brinegate::drivers {

enum class MqttVersion { V311, V5 };

struct MqttMessage {
  std::string topic;
  std::string payload;
  bool retained = false;       // MQTT 3.1.1: only where the broker replays it
  std::string response_topic;  // MQTT 5
  std::string correlation;     // MQTT 5
};

// Called from the library's threads: queue and return, never call the client from here.
struct MqttClientEvents {
  std::function<void(const MqttMessage&)> on_message;
  std::function<void(bool taken_over)> on_lost;
  // The broker has, or will never have, the message published with this receipt.
  std::function<void(std::uint64_t receipt, SampleFault fault)> on_receipt;
};

struct MqttIdentity {
  std::string client_id;
  std::string will_topic;  // retained "offline" when the connection dies; empty: no will
  std::string password;
};

struct MqttPublication {
  std::string topic;
  std::string payload;
  bool retained = false;
  std::string correlation;           // MQTT 5
  std::optional<Duration> lifetime;  // MQTT 5: the broker drops it after that
  std::uint64_t receipt = 0;         // 0: none wanted
};

class MqttClient {
 public:
  enum class Outcome {
    Unreachable,   // no connection
    Stalled,       // no outcome in time: only a fresh client is known to be sound
    VersionUnmet,  // something answered, but does not seem to speak this version
    Refused,       // the broker said no: credentials, client id
    Connected,
  };

  MqttClient(const config::Mqtt& mqtt, MqttVersion version, const std::string& client_id,
             MqttClientEvents events);
  ~MqttClient();
  MqttClient(const MqttClient&) = delete;
  MqttClient& operator=(const MqttClient&) = delete;

  // Blocking; for the session's own thread.
  Outcome connect(const config::Mqtt& mqtt, const MqttIdentity& identity);
  bool subscribe_source(const std::string& topic);
  // What is said from now on, and nothing that was retained.
  bool subscribe_live(const std::string& filter);
  // Waits until what was published reached the broker, or for that long.
  void drain(Duration at_most) const;
  // Ends this connection; another may follow.
  void hang_up();
  // The last one.
  void disconnect();

  // From any thread; false: not sent, and it will not be sent later.
  bool publish(const MqttPublication& publication) noexcept;

 private:
  class Library;
  std::unique_ptr<Library> library_;
  MqttVersion version_;
};

// What an attempt that led to nothing comes to for people. Blocks where TLS has to be asked again.
config::BrokerTrouble trouble_of(MqttClient::Outcome outcome, const config::Mqtt& mqtt);

// The first line of the password file; empty where there is none.
std::string read_password(const config::Mqtt& mqtt);

}  // namespace brinegate::drivers
