// SPDX-License-Identifier: Apache-2.0
// Publishes what probes show as JSON under a site's topics. A broker that is not there, or goes
// away, is waited for in the background; what could not be sent meanwhile is dropped.
#pragma once

#include <memory>
#include <string>
#include <string_view>

#include "rules/result.h"
#include "rules/time.h"

namespace mqtt {
class async_client;
}

namespace brinegate::sim {

class MqttPublisher {
 public:
  // `broker` is mqtt://host:port. Paho keeps its two threads for the rest of the process.
  static Result<std::unique_ptr<MqttPublisher>> open(const std::string& broker, std::string site);
  ~MqttPublisher();
  MqttPublisher(const MqttPublisher&) = delete;
  MqttPublisher& operator=(const MqttPublisher&) = delete;

  // To `<site>/<name>`: {"<key>": value, "time": "...Z", "simulated": true}, not retained.
  void publish(std::string_view name, std::string_view key, double value, WallTime time);

  [[nodiscard]] bool connected() const;

 private:
  MqttPublisher(std::unique_ptr<mqtt::async_client> client, std::string site);

  std::unique_ptr<mqtt::async_client> client_;
  std::string site_;
};

}  // namespace brinegate::sim
