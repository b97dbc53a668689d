// SPDX-License-Identifier: Apache-2.0
#include "sim/mqtt_publisher.h"

#include <chrono>
#include <cmath>
#include <ctime>
#include <utility>

#include <fmt/chrono.h>
#include <fmt/format.h>
#include <mqtt/async_client.h>
#include <nlohmann/json.hpp>
#include <unistd.h>

namespace brinegate::sim {
namespace {

constexpr int quality_of_service = 0;
constexpr std::chrono::milliseconds goodbye_time{500};

// 2026-11-25T13:05:40.123Z
std::string iso8601(WallTime time) {
  using std::chrono::floor;
  const auto since = time.time_since_epoch();
  const auto whole = floor<std::chrono::seconds>(since);
  const auto milliseconds = floor<std::chrono::milliseconds>(since - whole).count();
  return fmt::format("{:%Y-%m-%dT%H:%M:%S}.{:03}Z",
                     fmt::gmtime(static_cast<std::time_t>(whole.count())), milliseconds);
}

}  // namespace

Result<std::unique_ptr<MqttPublisher>> MqttPublisher::open(const std::string& broker,
                                                           std::string site) {
  constexpr std::string_view scheme_prefix = "mqtt://";
  const auto refused = [&](const std::string& why) {
    return Error{fmt::format("--mqtt \"{}\": {}; write e.g. mqtt://127.0.0.1:1883", broker, why)};
  };
  if (!broker.starts_with(scheme_prefix) || broker.size() == scheme_prefix.size())
    return refused("not a broker's address (the rig speaks plain MQTT only)");
  try {
    auto client =
        std::make_unique<mqtt::async_client>("tcp://" + broker.substr(scheme_prefix.size()),
                                             fmt::format("brinegate-sim-{}", ::getpid()));
    client->connect(mqtt::connect_options_builder()
                        .clean_session(true)
                        .keep_alive_interval(std::chrono::seconds(5))
                        .automatic_reconnect(std::chrono::seconds(1), std::chrono::seconds(4))
                        .finalize());
    return std::unique_ptr<MqttPublisher>(
        new MqttPublisher(std::move(client), std::move(site)));  // the constructor is private
  } catch (const mqtt::exception& problem) {
    return refused(problem.what());
  }
}

MqttPublisher::MqttPublisher(std::unique_ptr<mqtt::async_client> client, std::string site)
    : client_(std::move(client)), site_(std::move(site)) {}

MqttPublisher::~MqttPublisher() {
  try {
    client_->disable_callbacks();
    if (client_->is_connected())
      client_->disconnect(static_cast<int>(goodbye_time.count()))->wait_for(goodbye_time);
  } catch (const mqtt::exception&) {
    // The broker left first.
  }
}

void MqttPublisher::publish(std::string_view name, std::string_view key, double value,
                            WallTime time) {
  const nlohmann::ordered_json payload{
      {key, std::round(value * 1e4) / 1e4}, {"time", iso8601(time)}, {"simulated", true}};
  try {
    client_->publish(fmt::format("{}/{}", site_, name), payload.dump(), quality_of_service, false);
  } catch (const mqtt::exception&) {
    // Not connected: a probe's value is worth nothing later.
  }
}

bool MqttPublisher::connected() const {
  return client_->is_connected();
}

}  // namespace brinegate::sim
