// SPDX-License-Identifier: Apache-2.0
#include "drivers/mqtt_listener.h"

#include <map>
#include <memory>
#include <mutex>
#include <thread>
#include <utility>

#include <unistd.h>

#include "drivers/mqtt_client.h"

namespace brinegate::drivers {

using config::BrokerTrouble;

namespace {

constexpr std::size_t most_topics = 1000;

// Filled by the library's threads.
class Notebook {
 public:
  void note(const MqttMessage& message) {
    const std::lock_guard lock(mutex_);
    if (topics_.size() == most_topics && !topics_.contains(message.topic)) {
      all_ = false;
      return;
    }
    HeardTopic& heard = topics_[message.topic];
    heard = {message.topic, message.payload, heard.messages + 1, message.retained};
  }
  void note_loss() {
    const std::lock_guard lock(mutex_);
    lost_ = true;
  }
  [[nodiscard]] bool lost() const {
    const std::lock_guard lock(mutex_);
    return lost_;
  }
  [[nodiscard]] Heard content() const {
    const std::lock_guard lock(mutex_);
    Heard heard{{}, all_};
    for (const auto& [topic, each] : topics_) {
      heard.topics.push_back(each);
    }
    return heard;
  }

 private:
  mutable std::mutex mutex_;
  std::map<std::string, HeardTopic> topics_;
  bool all_ = true;
  bool lost_ = false;
};

// Another client of the same name would be thrown out.
std::string client_id() {
  return "brinegate-find-" + std::to_string(::getpid());
}

struct Attempt {
  Attempt(const config::Mqtt& mqtt, MqttVersion version)
      : client(mqtt, version, client_id(),
               {[this](const MqttMessage& message) { notebook.note(message); },
                [this](bool) { notebook.note_loss(); }, [](std::uint64_t, SampleFault) {}}) {}

  Notebook notebook;
  MqttClient client;
};

}  // namespace

Result<Heard, BrokerTrouble> listen(const config::Mqtt& mqtt, const std::string& filter,
                                    Duration duration) {
  std::vector<std::unique_ptr<Attempt>> attempts;  // all kept: see MqttSession::connect_once()
  auto outcome = MqttClient::Outcome::VersionUnmet;
  for (const MqttVersion version : {MqttVersion::V5, MqttVersion::V311}) {
    if (outcome == MqttClient::Outcome::VersionUnmet) {
      attempts.push_back(std::make_unique<Attempt>(mqtt, version));
      outcome = attempts.back()->client.connect(mqtt, {client_id(), {}, read_password(mqtt)});
    }
  }
  if (outcome != MqttClient::Outcome::Connected) {
    return trouble_of(outcome, mqtt);
  }
  Attempt& connected = *attempts.back();
  if (!connected.client.subscribe_source(filter)) {
    return BrokerTrouble::RefusesUs;
  }
  std::this_thread::sleep_for(duration);
  connected.client.disconnect();
  if (connected.notebook.lost()) {
    return BrokerTrouble::NobodyAnswers;
  }
  return connected.notebook.content();
}

}  // namespace brinegate::drivers
