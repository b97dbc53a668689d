// SPDX-License-Identifier: Apache-2.0
// The driver of everything on the broker: sources, outputs, requests, and what the daemon says. One
// client a process. Its own thread connects, subscribes and drives; the library's threads only hand
// messages over.
#pragma once

#include <atomic>
#include <condition_variable>
#include <functional>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <set>
#include <string>
#include <thread>
#include <utility>
#include <vector>

#include "config/advice_broker.h"
#include "config/model.h"
#include "drivers/backoff.h"
#include "drivers/driver.h"
#include "drivers/output_intent.h"
#include "drivers/reading_json.h"

namespace brinegate::drivers {

class MqttClient;
struct MqttMessage;
enum class MqttVersion;

struct MqttProbe {
  ProbeKey key;
  config::MqttSource source;
  bool contact = false;
};

struct MqttSwitch {
  OutputKey key;
  config::MqttOutput output;
};

// What arrived on brinegate/<site>/<station>/request.
struct MqttRequest {
  std::string station;
  std::string payload;         // empty where beyond_limits
  bool retained = false;       // never to be honoured
  bool beyond_limits = false;  // larger than 16 kB or nested too deep: not passed on
  std::string response_topic;  // MQTT 5; empty: none, or one that is not for strangers to name
  std::string correlation;     // MQTT 5
};

struct MqttCallbacks {
  std::function<void(const MqttRequest&)> on_request;  // from a foreign thread: only queue
  std::function<void(bool connected)> on_connection;   // likewise; publish everything when true
  // Likewise: an attempt failed. Each trouble is told once, until there was a connection.
  std::function<void(config::BrokerTrouble)> on_trouble;
  // Likewise: home automation says that it has started. Only where discovery is on.
  std::function<void()> on_birth = {};
};

struct MqttStats {
  bool connected = false;
  bool version_5 = false;
  std::uint64_t connections = 0;
  std::uint64_t messages = 0;
  std::uint64_t unparsable = 0;
  std::uint64_t publications_dropped = 0;
};

// MQTT 5 is tried first; a broker that takes the connection but not the version is tried with
// 3.1.1 next, and so on in turn. A version that worked is kept until a broker refuses it.
class MqttSession final : public Driver {
 public:
  MqttSession(config::Mqtt mqtt, const std::string& site, std::vector<MqttProbe> probes,
              std::vector<MqttSwitch> switches, Sink& sink, MqttCallbacks callbacks);
  MqttSession(const MqttSession&) = delete;
  MqttSession& operator=(const MqttSession&) = delete;
  ~MqttSession() override;

  void open() override;
  void drive(OutputKey output, std::optional<MonoTime> on_until) override;
  void close() override;

  // From any thread, without waiting. False: dropped, because there is no connection or too much is
  // under way; nothing is kept for later, so publish the present state again on connection.
  bool publish(const std::string& topic, const std::string& payload, bool retained) noexcept;
  // The answer to a request, to its response topic.
  bool respond(const MqttRequest& request, const std::string& payload) noexcept;

  [[nodiscard]] MqttStats stats() const;
  // "brinegate/<site>/", below which everything of ours stands.
  [[nodiscard]] const std::string& base_topic() const { return base_topic_; }

 private:
  struct UnderWay {
    OutputIntent::Step step;
    bool on = false;
    std::uint64_t receipt = 0;
    MonoTime give_up;
  };
  struct Switched {
    MqttSwitch spec;
    OutputIntent intent;
    std::optional<UnderWay> under_way;
  };
  using Receipt = std::pair<std::uint64_t, SampleFault>;

  void run();
  void connect_once();
  void tell(config::BrokerTrouble trouble);
  bool announce_and_subscribe(MqttClient& client);
  void make_client();
  void notice_loss();
  void settle_receipts();
  void settle(Switched& output, SampleFault fault);
  void drive_outputs();
  void drive_output(Switched& output);
  void carry_out(Switched& output, const OutputIntent::Step& step);
  void wait_for_work();
  MonoTime next_work() const;
  void shut_down();
  void take(const MqttMessage& message);
  void take_request(const MqttMessage& message);
  void take_reading(const MqttProbe& probe, const MqttMessage& message);
  void deliver_not_connected();
  bool may_answer_to(const std::string& topic) const;
  bool stopping();
  std::shared_ptr<MqttClient> client();

  config::Mqtt mqtt_;
  std::string base_topic_;
  std::string client_id_;
  std::multimap<std::string, MqttProbe> probes_;  // by topic
  Sink& sink_;
  MqttCallbacks callbacks_;

  // Only the session's thread touches these.
  MqttVersion version_;
  Backoff reconnect_;
  std::set<config::BrokerTrouble> told_;  // since the last connection
  MonoTime connect_at_ = MonoTime::min();
  std::uint64_t last_receipt_ = 0;

  std::atomic<bool> connected_ = false;
  std::atomic<std::uint64_t> connections_ = 0;
  std::atomic<std::uint64_t> messages_ = 0;
  std::atomic<std::uint64_t> unparsable_ = 0;
  std::atomic<std::uint64_t> dropped_ = 0;
  std::atomic<bool> version_5_ = false;

  // Guards what follows. Never held while the library is called, which calls back with its own
  // locks held.
  mutable std::mutex mutex_;
  std::condition_variable changed_;
  std::shared_ptr<MqttClient> client_;
  std::vector<Switched> outputs_;
  std::vector<Receipt> receipts_;
  bool lost_ = false;
  bool taken_over_ = false;
  bool stop_ = false;

  std::thread thread_;
};

}  // namespace brinegate::drivers
