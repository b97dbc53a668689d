// SPDX-License-Identifier: Apache-2.0
#include "drivers/mqtt_session.h"

#include <algorithm>

#include "drivers/clock.h"
#include "drivers/mqtt_client.h"
#include "drivers/quiet_thread.h"

namespace brinegate::drivers {

namespace {

using Action = OutputIntent::Action;

constexpr Duration first_broker_retry = std::chrono::milliseconds(500);
constexpr Duration longest_broker_retry = std::chrono::seconds(5);
// Two daemons of one name would throw each other out for ever.
constexpr Duration after_take_over = std::chrono::seconds(30);
constexpr Duration receipt_within = std::chrono::seconds(3);
constexpr OutputTiming output_timing{std::chrono::milliseconds(500), std::chrono::seconds(5),
                                     std::chrono::seconds(10)};

// The lease as a device takes it: seconds with one decimal, never more than is left.
std::string with_seconds(std::string payload, std::int64_t tenths) {
  const std::string placeholder = "{seconds}";
  const std::string text = std::to_string(tenths / 10) + "." + std::to_string(tenths % 10);
  for (std::size_t at = payload.find(placeholder); at != std::string::npos;
       at = payload.find(placeholder, at + text.size())) {
    payload.replace(at, placeholder.size(), text);
  }
  return payload;
}

}  // namespace

MqttSession::MqttSession(config::Mqtt mqtt, const std::string& site, std::vector<MqttProbe> probes,
                         std::vector<MqttSwitch> switches, Sink& sink, MqttCallbacks callbacks)
    : mqtt_(std::move(mqtt)),
      base_topic_("brinegate/" + site + "/"),
      client_id_("brinegate-" + site),
      sink_(sink),
      callbacks_(std::move(callbacks)),
      version_(MqttVersion::V5),
      reconnect_(first_broker_retry, longest_broker_retry) {
  for (MqttProbe& probe : probes) {
    probes_.emplace(probe.source.topic, std::move(probe));
  }
  for (MqttSwitch& output : switches) {
    outputs_.push_back({std::move(output), OutputIntent(output_timing), std::nullopt});
  }
}

MqttSession::~MqttSession() {
  close();
}

void MqttSession::open() {
  thread_ = start_quiet_thread([this] { run(); });
}

void MqttSession::drive(OutputKey key, std::optional<MonoTime> on_until) {
  {
    const std::lock_guard lock(mutex_);
    for (Switched& output : outputs_) {
      if (output.spec.key == key && !stop_) {
        output.intent.want(on_until, monotonic_now());
      }
    }
  }
  changed_.notify_one();
}

void MqttSession::close() {
  {
    const std::lock_guard lock(mutex_);
    stop_ = true;
  }
  changed_.notify_one();
  if (thread_.joinable()) {
    thread_.join();
  }
  // Now, while everything that its last callbacks touch still stands.
  std::shared_ptr<MqttClient> old;
  const std::lock_guard lock(mutex_);
  std::swap(client_, old);
}

bool MqttSession::publish(const std::string& topic, const std::string& payload,
                          bool retained) noexcept {
  const auto current = client();
  if (connected_ && current != nullptr &&
      current->publish({topic, payload, retained, {}, std::nullopt, 0})) {
    return true;
  }
  ++dropped_;
  return false;
}

bool MqttSession::respond(const MqttRequest& request, const std::string& payload) noexcept {
  const auto current = client();
  return !request.response_topic.empty() && connected_ && current != nullptr &&
         current->publish(
             {request.response_topic, payload, false, request.correlation, std::nullopt, 0});
}

MqttStats MqttSession::stats() const {
  return {connected_, version_5_, connections_, messages_, unparsable_, dropped_};
}

std::shared_ptr<MqttClient> MqttSession::client() {
  const std::lock_guard lock(mutex_);
  return client_;
}

void MqttSession::run() {
  deliver_not_connected();
  while (!stopping()) {
    notice_loss();
    if (!connected_ && monotonic_now() >= connect_at_) {
      connect_once();
    }
    settle_receipts();
    drive_outputs();
    wait_for_work();
  }
  shut_down();
}

void MqttSession::make_client() {
  MqttClientEvents events;
  events.on_message = [this](const MqttMessage& message) { take(message); };
  events.on_lost = [this](bool taken_over) {
    const std::lock_guard lock(mutex_);
    lost_ = true;
    taken_over_ = taken_over_ || taken_over;
    changed_.notify_one();
  };
  events.on_receipt = [this](std::uint64_t receipt, SampleFault fault) {
    const std::lock_guard lock(mutex_);
    receipts_.emplace_back(receipt, fault);
    changed_.notify_one();
  };
  auto fresh = std::make_shared<MqttClient>(mqtt_, version_, client_id_, std::move(events));
  const std::lock_guard lock(mutex_);
  std::swap(client_, fresh);  // the old one ends after the lock
}

void MqttSession::connect_once() {
  if (client() == nullptr) {
    make_client();
  }
  {
    const std::lock_guard lock(mutex_);
    lost_ = false;
    taken_over_ = false;
  }
  const auto current = client();
  const auto outcome =
      current->connect(mqtt_, {client_id_, base_topic_ + "status", read_password(mqtt_)});
  if (outcome == MqttClient::Outcome::Connected && announce_and_subscribe(*current)) {
    reconnect_.reset();
    told_.clear();
    connected_ = true;
    version_5_ = version_ == MqttVersion::V5;
    ++connections_;
    {
      // The device may have missed what was said before: say all of it again.
      const std::lock_guard lock(mutex_);
      for (Switched& output : outputs_) {
        output.intent.doubt(monotonic_now());
      }
    }
    callbacks_.on_connection(true);
    return;
  }
  if (outcome == MqttClient::Outcome::VersionUnmet) {
    version_ = version_ == MqttVersion::V5 ? MqttVersion::V311 : MqttVersion::V5;
  }
  // Otherwise the object is kept: the library stops its threads with the last client of a process,
  // and a connection begun at that moment stalls.
  if (outcome == MqttClient::Outcome::VersionUnmet || outcome == MqttClient::Outcome::Stalled) {
    std::shared_ptr<MqttClient> old;
    const std::lock_guard lock(mutex_);
    std::swap(client_, old);
  } else if (outcome == MqttClient::Outcome::Connected) {
    current->hang_up();  // connected, but not subscribed
  }
  deliver_not_connected();
  tell(trouble_of(outcome, mqtt_));
  connect_at_ = monotonic_now() + reconnect_.next();
}

void MqttSession::tell(config::BrokerTrouble trouble) {
  if (told_.insert(trouble).second) {
    callbacks_.on_trouble(trouble);
  }
}

bool MqttSession::announce_and_subscribe(MqttClient& client) {
  // Subscriptions are not renewed by the library, so all of them are made on every connection.
  std::string last;
  for (const auto& [topic, probe] : probes_) {
    if (topic != last && !client.subscribe_source(topic)) {
      return false;
    }
    last = topic;
  }
  if (mqtt_.discovery) {
    // A broker that refuses this one takes nothing away that is needed.
    client.subscribe_live(mqtt_.birth_topic);
  }
  return client.subscribe_live(base_topic_ + "+/request") &&
         client.publish({base_topic_ + "status", "online", true, {}, std::nullopt, 0});
}

void MqttSession::notice_loss() {
  {
    const std::lock_guard lock(mutex_);
    if (!lost_ || !connected_) {
      return;
    }
    lost_ = false;
    connected_ = false;
    connect_at_ = monotonic_now() + (taken_over_ ? after_take_over : first_broker_retry);
    taken_over_ = false;
  }
  deliver_not_connected();
  for (Switched& output : outputs_) {
    settle(output, SampleFault::NotConnected);
  }
  callbacks_.on_connection(false);
}

void MqttSession::settle_receipts() {
  std::vector<Receipt> receipts;
  {
    const std::lock_guard lock(mutex_);
    std::swap(receipts, receipts_);
  }
  for (Switched& output : outputs_) {
    for (const auto& [receipt, fault] : receipts) {
      if (output.under_way && output.under_way->receipt == receipt) {
        settle(output, fault);
      }
    }
    if (output.under_way && monotonic_now() >= output.under_way->give_up) {
      settle(output, SampleFault::Timeout);
    }
  }
}

void MqttSession::settle(Switched& output, SampleFault fault) {
  if (!output.under_way) {
    return;
  }
  const UnderWay ended = *output.under_way;
  {
    const std::lock_guard lock(mutex_);
    output.under_way.reset();
    output.intent.done(ended.step, fault == SampleFault::None, monotonic_now());
  }
  sink_.report({output.spec.key, ended.on, fault});
}

void MqttSession::drive_outputs() {
  for (Switched& output : outputs_) {  // the vector itself never changes after construction
    drive_output(output);
  }
}

void MqttSession::drive_output(Switched& output) {
  for (;;) {
    OutputIntent::Step step;
    {
      const std::lock_guard lock(mutex_);
      step = output.intent.next(monotonic_now());
    }
    const bool on = step.action == Action::SwitchOn;
    if (step.action == Action::None) {
      return;
    }
    // One at a time: while the link hangs, no second "on" is put on top of one that may still be
    // delivered. "Off" overtakes an "on" under way.
    if (output.under_way && output.under_way->on == on && step.action != Action::Drop) {
      return;
    }
    carry_out(output, step);
  }
}

void MqttSession::carry_out(Switched& output, const OutputIntent::Step& step) {
  const bool on = step.action == Action::SwitchOn;
  const MonoTime now = monotonic_now();
  if (step.action == Action::Drop) {
    output.under_way.reset();
    sink_.report(
        {output.spec.key, true, connected_ ? SampleFault::Timeout : SampleFault::NotConnected});
    return;
  }
  MqttPublication publication;
  publication.topic = output.spec.output.topic;
  publication.payload = output.spec.output.off;
  bool sendable = connected_;
  if (on) {
    const Duration left = step.on_until - now;
    const std::int64_t tenths = left / std::chrono::milliseconds(100);
    publication.payload = with_seconds(output.spec.output.on, tenths);
    publication.lifetime = left;
    sendable = sendable && tenths > 0;
  }
  publication.receipt = ++last_receipt_;
  {
    const std::lock_guard lock(mutex_);
    output.under_way = UnderWay{step, on, publication.receipt, now + receipt_within};
  }
  const auto current = client();
  if (!sendable || current == nullptr || !current->publish(publication)) {
    settle(output, SampleFault::NotConnected);
  }
}

MonoTime MqttSession::next_work() const {
  MonoTime next = connected_ ? MonoTime::max() : connect_at_;
  for (const Switched& output : outputs_) {
    const MonoTime now = monotonic_now();
    const bool waiting = output.under_way && output.under_way->on != output.intent.wants_off(now);
    next = std::min(next, waiting ? output.under_way->give_up : output.intent.due());
    next = std::min(next, output.intent.on_until().value_or(MonoTime::max()));
  }
  return next;
}

void MqttSession::wait_for_work() {
  // Wakes at least once a second, whatever was computed.
  const MonoTime latest = monotonic_now() + std::chrono::seconds(1);
  std::unique_lock lock(mutex_);
  while (!stop_ && !(lost_ && connected_) && receipts_.empty()) {
    const MonoTime until = std::min(next_work(), latest);
    if (monotonic_now() >= until) {
      return;
    }
    changed_.wait_until(lock, std::chrono::steady_clock::time_point(until.time_since_epoch()));
  }
}

void MqttSession::shut_down() {
  {
    const std::lock_guard lock(mutex_);
    for (Switched& output : outputs_) {
      if (!output.intent.confirmed_off()) {
        output.intent.want(std::nullopt, monotonic_now());
        output.intent.doubt(monotonic_now());
        output.under_way.reset();
      }
    }
  }
  const auto current = client();
  if (current == nullptr || !connected_) {
    return;
  }
  drive_outputs();
  // The will is published only when the connection dies; a wilful stop says it itself.
  current->publish({base_topic_ + "status", "offline", true, {}, std::nullopt, 0});
  current->drain(std::chrono::seconds(1));
  settle_receipts();
  current->disconnect();
  connected_ = false;
}

void MqttSession::take(const MqttMessage& message) {
  ++messages_;
  const auto [first, last] = probes_.equal_range(message.topic);
  for (auto at = first; at != last; ++at) {
    take_reading(at->second, message);
  }
  if (message.topic.starts_with(base_topic_) && message.topic.ends_with("/request")) {
    take_request(message);
  }
  if (mqtt_.discovery && message.topic == mqtt_.birth_topic &&
      message.payload == mqtt_.birth_payload) {
    callbacks_.on_birth();
  }
}

void MqttSession::take_reading(const MqttProbe& probe, const MqttMessage& message) {
  const auto& source = probe.source;
  const auto reading = parse_reading(
      message.payload,
      {source.pointer, source.time_pointer, source.simulated_pointer, true, probe.contact});
  Sample sample;
  sample.fault = SampleFault::Unparsable;
  sample.arrived = monotonic_now();
  sample.retained = message.retained;
  if (reading) {
    sample.fault = SampleFault::None;
    sample.value = reading->value;
    sample.source_time = reading->source_time;
    sample.simulated = reading->simulated;
  } else {
    ++unparsable_;
  }
  sink_.deliver(probe.key, sample);
}

void MqttSession::take_request(const MqttMessage& message) {
  const std::size_t tail = std::string("/request").size();
  MqttRequest request;
  request.station =
      message.topic.substr(base_topic_.size(), message.topic.size() - base_topic_.size() - tail);
  request.retained = message.retained;
  request.beyond_limits = !within_json_limits(message.payload);
  if (!request.beyond_limits) {
    request.payload = message.payload;
  }
  if (may_answer_to(message.response_topic)) {
    request.response_topic = message.response_topic;
    request.correlation = message.correlation;
  }
  callbacks_.on_request(request);
}

// Our rights on the broker are greater than those of whoever asks: an answer must not be steered
// onto the topic of an output, of a source, of our own state, or of what home automation goes by.
bool MqttSession::may_answer_to(const std::string& topic) const {
  const bool plain = !topic.empty() && topic.find_first_of("+#$") == std::string::npos;
  const bool output = std::any_of(outputs_.begin(), outputs_.end(), [&](const Switched& switched) {
    return switched.spec.output.topic == topic;
  });
  return plain && !output && !probes_.contains(topic) && !topic.starts_with(base_topic_) &&
         !topic.starts_with(mqtt_.discovery_prefix + "/") && topic != mqtt_.birth_topic;
}

void MqttSession::deliver_not_connected() {
  for (const auto& [topic, probe] : probes_) {
    Sample sample;
    sample.fault = SampleFault::NotConnected;
    sample.arrived = monotonic_now();
    sink_.deliver(probe.key, sample);
  }
}

bool MqttSession::stopping() {
  const std::lock_guard lock(mutex_);
  return stop_;
}

}  // namespace brinegate::drivers
