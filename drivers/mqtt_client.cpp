// SPDX-License-Identifier: Apache-2.0
#include "drivers/mqtt_client.h"

#include <algorithm>
#include <fstream>
#include <thread>
#include <utility>

#include <mqtt/async_client.h>

#include "drivers/clock.h"
#include "drivers/tls_check.h"

namespace brinegate::drivers {

namespace {

constexpr auto keep_alive = std::chrono::seconds(4);  // a hung broker shows after 2 to 3 of these
constexpr auto patience = std::chrono::seconds(5);
constexpr Duration tls_patience = std::chrono::seconds(2);
constexpr int most_under_way = 512;  // publications without an answer yet

int protocol_of(MqttVersion version) {
  return version == MqttVersion::V5 ? MQTTVERSION_5 : MQTTVERSION_3_1_1;
}

std::string library_address(const std::string& broker) {
  const std::string plain = "mqtt://";
  const std::string secured = "mqtts://";
  if (broker.starts_with(secured)) {
    return "ssl://" + broker.substr(secured.size());
  }
  return "tcp://" + (broker.starts_with(plain) ? broker.substr(plain.size()) : broker);
}

mqtt::create_options create_options_for(MqttVersion version) {
  // send_while_disconnected stays off: an old "on" delivered late is a hazard.
  return mqtt::create_options_builder().mqtt_version(protocol_of(version)).finalize();
}

std::string property_of(const mqtt::properties& properties, mqtt::property::code code) {
  return properties.contains(code) ? mqtt::get<std::string>(properties, code) : std::string();
}

MqttMessage ours(const mqtt::message& message) {
  return {message.get_topic(), message.get_payload_str(), message.is_retained(),
          property_of(message.get_properties(), mqtt::property::RESPONSE_TOPIC),
          property_of(message.get_properties(), mqtt::property::CORRELATION_DATA)};
}

}  // namespace

// Receipts come to one listener that lives as long as the client: a listener of each publication
// would have to outlive it, and nobody says when the library is done with it.
class MqttClient::Library final : public mqtt::iaction_listener {
 public:
  Library(const std::string& address, const std::string& client_id, MqttVersion version,
          MqttClientEvents events)
      : events_(std::move(events)), client_(address, client_id, create_options_for(version)) {
    // Before connect() and never again: the library's locks are taken in the other order later.
    client_.set_message_callback([this](const mqtt::const_message_ptr& message) {
      try {
        events_.on_message(ours(*message));
      } catch (const std::exception&) {
        // An exception out of a callback would end the process; the message is lost, which the
        // deadlines of its readers see.
      }
    });
    client_.set_connection_lost_handler([this](const std::string&) { events_.on_lost(false); });
    client_.set_disconnected_handler([this](const mqtt::properties&, mqtt::ReasonCode reason) {
      events_.on_lost(reason == mqtt::ReasonCode::SESSION_TAKEN_OVER);
    });
  }

  mqtt::async_client& client() { return client_; }
  [[nodiscard]] int under_way() const { return under_way_; }
  bool reserve() {
    if (++under_way_ > most_under_way) {
      --under_way_;
      return false;
    }
    return true;
  }
  void release() { --under_way_; }

 private:
  // The broker has it. Its MQTT 5 reason (nobody subscribed) does not come through the library.
  void on_success(const mqtt::token& token) override { finish(token, SampleFault::None); }
  void on_failure(const mqtt::token& token) override { finish(token, SampleFault::NotConnected); }
  void finish(const mqtt::token& token, SampleFault fault) {
    release();
    const auto receipt = reinterpret_cast<std::uintptr_t>(token.get_user_context());
    if (receipt != 0) {
      events_.on_receipt(receipt, fault);
    }
  }

  MqttClientEvents events_;
  std::atomic<int> under_way_ = 0;
  mqtt::async_client client_;
};

MqttClient::MqttClient(const config::Mqtt& mqtt, MqttVersion version, const std::string& client_id,
                       MqttClientEvents events)
    : library_(std::make_unique<Library>(library_address(mqtt.broker), client_id, version,
                                         std::move(events))),
      version_(version) {}

MqttClient::~MqttClient() = default;

namespace {

mqtt::connect_options connect_options_for(const config::Mqtt& mqtt, const MqttIdentity& identity,
                                          MqttVersion version) {
  mqtt::connect_options_builder builder;
  builder.mqtt_version(protocol_of(version))
      .keep_alive_interval(keep_alive)
      .connect_timeout(patience)
      .max_inflight(100);
  if (!identity.will_topic.empty()) {
    builder.will(mqtt::message(identity.will_topic, "offline", 1, true));
  }
  if (version == MqttVersion::V5) {
    // No connect properties: the library's copies of the options share and free them (seen as a
    // read of freed memory). So the largest packet is the broker's to limit.
    builder.clean_start(true);
  } else {
    builder.clean_session(true);
  }
  if (!mqtt.username.empty()) {
    builder.user_name(mqtt.username).password(identity.password);
  }
  if (mqtt.broker.starts_with("mqtts://")) {
    mqtt::ssl_options_builder tls;
    // Without verify() the library takes a valid certificate of any other host.
    tls.enable_server_cert_auth(true).verify(true);
    if (!mqtt.ca_file.empty()) {
      tls.trust_store(mqtt.ca_file);  // instead of whom this computer trusts
    }
    builder.ssl(tls.finalize());
  }
  return builder.finalize();
}

MqttClient::Outcome outcome_of(const mqtt::exception& error) {
  // The broker's answer: of MQTT 5 from 0x80 on, where the library puts it into either; of 3.1.1
  // from 1 to 5.
  const int code = std::max(error.get_reason_code(), error.get_return_code());
  const std::string text = error.what();
  if (code == mqtt::ReasonCode::UNSUPPORTED_PROTOCOL_VERSION || code == 1) {
    return MqttClient::Outcome::VersionUnmet;
  }
  if (code >= 0x80 || (code >= 2 && code <= 5)) {
    return MqttClient::Outcome::Refused;
  }
  if (text.find("TCP") != std::string::npos || text.find("TLS") != std::string::npos) {
    return MqttClient::Outcome::Unreachable;
  }
  return MqttClient::Outcome::VersionUnmet;  // it took the connection and dropped it
}

}  // namespace

MqttClient::Outcome MqttClient::connect(const config::Mqtt& mqtt, const MqttIdentity& identity) {
  try {
    const auto token = library_->client().connect(connect_options_for(mqtt, identity, version_));
    return token->wait_for(patience + std::chrono::seconds(1)) ? Outcome::Connected
                                                               : Outcome::Stalled;
  } catch (const mqtt::exception& error) {
    return outcome_of(error);
  } catch (const std::exception&) {
    return Outcome::Unreachable;
  }
}

bool MqttClient::subscribe_source(const std::string& topic) {
  try {
    // Default options: a message published just now comes without the retained mark even where it
    // is retained for others; only a replayed one bears it. QoS 0: a sample that is late is no
    // sample, and the answer that QoS 1 asks for would hold back the gate's next word (small
    // packets wait for the answer to the one before).
    return library_->client().subscribe(topic, 0)->wait_for(patience);
  } catch (const std::exception&) {
    return false;
  }
}

bool MqttClient::subscribe_live(const std::string& filter) {
  try {
    // Retained requests are an error of their sender: bear the mark when live, never be replayed.
    const mqtt::subscribe_options options(false, true, mqtt::subscribe_options::DONT_SEND_RETAINED);
    const auto token = version_ == MqttVersion::V5
                           ? library_->client().subscribe(filter, 1, options)
                           : library_->client().subscribe(filter, 1);
    return token->wait_for(patience);
  } catch (const std::exception&) {
    return false;
  }
}

void MqttClient::drain(Duration at_most) const {
  const MonoTime give_up = monotonic_now() + at_most;
  while (library_->under_way() > 0 && monotonic_now() < give_up) {
    std::this_thread::sleep_for(std::chrono::milliseconds(5));
  }
}

void MqttClient::hang_up() {
  try {
    library_->client().disconnect(500)->wait_for(std::chrono::seconds(1));
  } catch (const std::exception&) {
    // Not connected any more: nothing to end.
  }
}

void MqttClient::disconnect() {
  try {
    library_->client().disable_callbacks();
  } catch (const std::exception&) {
    // The library refuses only where there is nothing to disable.
  }
  hang_up();
}

bool MqttClient::publish(const MqttPublication& publication) noexcept {
  if (!library_->reserve()) {
    return false;
  }
  try {
    mqtt::message_ptr_builder builder;
    builder.topic(publication.topic)
        .payload(publication.payload)
        .qos(1)
        .retained(publication.retained);
    if (version_ == MqttVersion::V5) {
      mqtt::properties properties;
      if (publication.lifetime) {
        const auto whole = std::chrono::floor<std::chrono::seconds>(*publication.lifetime).count();
        properties.add({mqtt::property::MESSAGE_EXPIRY_INTERVAL,
                        static_cast<std::int32_t>(std::max<std::int64_t>(whole, 1))});
      }
      if (!publication.correlation.empty()) {
        properties.add({mqtt::property::CORRELATION_DATA, publication.correlation});
      }
      builder.properties(std::move(properties));
    }
    // The library takes a pointer for the caller; a number is all we need there.
    auto* receipt = reinterpret_cast<void*>(static_cast<std::uintptr_t>(publication.receipt));
    library_->client().publish(builder.finalize(), receipt, *library_);
    return true;
  } catch (const std::exception&) {
    library_->release();
    return false;
  }
}

config::BrokerTrouble trouble_of(MqttClient::Outcome outcome, const config::Mqtt& mqtt) {
  using config::BrokerTrouble;
  const bool with_tls = mqtt.broker.starts_with("mqtts://");
  switch (outcome) {
    case MqttClient::Outcome::Unreachable:
      return with_tls ? tls_trouble(mqtt, tls_patience) : BrokerTrouble::NobodyAnswers;
    case MqttClient::Outcome::Stalled:
      return BrokerTrouble::AnswersTooLate;
    case MqttClient::Outcome::VersionUnmet:
      return BrokerTrouble::SpeaksNoMqtt;
    case MqttClient::Outcome::Refused:
    case MqttClient::Outcome::Connected:  // and a subscription was refused
      return BrokerTrouble::RefusesUs;
  }
  return BrokerTrouble::NobodyAnswers;
}

std::string read_password(const config::Mqtt& mqtt) {
  std::string password;
  if (!mqtt.password_file.empty()) {
    std::ifstream file(mqtt.password_file);
    std::getline(file, password);
    if (!password.empty() && password.back() == '\r') {
      password.pop_back();
    }
  }
  return password;
}

}  // namespace brinegate::drivers
