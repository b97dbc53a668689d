// SPDX-License-Identifier: Apache-2.0
// See notifier.h.
#include "daemon/notifier.h"

#include <array>
#include <utility>
#include <variant>

#include <fmt/format.h>
#include <nlohmann/json.hpp>
#include <openssl/rand.h>

#include "config/quantity.h"
#include "daemon/notice_text.h"

namespace brinegate::daemon {
namespace {

// The history is written every few seconds; a disk that took nothing for so long is no good sign.
constexpr Duration longest_without_record = std::chrono::seconds(30);
// A late heartbeat would say something of another time.
constexpr drivers::DeliveryPatience no_patience{.whole = Duration::zero()};

std::string random_word() {
  std::array<unsigned char, 8> bytes{};
  RAND_bytes(bytes.data(), static_cast<int>(bytes.size()));
  std::string word;
  for (const unsigned char byte : bytes) {
    word += fmt::format("{:02x}", byte);
  }
  return word;
}

void tell(const std::string& who, const drivers::DeliveryReport& report, const Notifier::Say& say) {
  if (report.outcome.end == drivers::DeliveryEnd::Delivered) {
    say(LogLevel::Info, who + ": delivered");
  } else if (report.again_in) {
    say(LogLevel::Warning, fmt::format("{}: not delivered ({}); tried again in {}", who,
                                       report.outcome.why, config::show(*report.again_in)));
  } else {
    say(LogLevel::Error,
        fmt::format("{}: not delivered ({}), and given up", who, report.outcome.why));
  }
}

}  // namespace

Notifier::Notifier(std::string site) : site_(std::move(site)), run_(random_word()) {}

Result<std::unique_ptr<Notifier>> Notifier::start(const config::Notify& notify, std::string site,
                                                  Say say) {
  std::unique_ptr<Notifier> notifier(new Notifier(std::move(site)));
  for (const config::NotifyTarget& target : notify.targets) {
    if (const Result<Done> added = notifier->add(target, say); !added.ok()) {
      return added.error();
    }
  }
  if (notify.heartbeat) {
    notifier->add(*notify.heartbeat, say);
  }
  return notifier;
}

Result<Done> Notifier::add(const config::NotifyTarget& target, const Say& say) {
  Result<drivers::Carry> carry = drivers::carry_to(target);
  if (!carry.ok()) {
    return carry.error();
  }
  const bool is_mail = std::holds_alternative<config::Mail>(target.by);
  targets_.push_back({target.name, is_mail ? "mail" : "webhook", AlarmNotices(target.repeat_every),
                      std::make_unique<drivers::DeliveryThread>(
                          std::move(carry).value(), drivers::DeliveryPatience{},
                          [who = "notify." + target.name, say](
                              const drivers::DeliveryReport& report) { tell(who, report, say); })});
  return Done{};
}

void Notifier::add(const config::Heartbeat& heartbeat, const Say& say) {
  beat_every_ = heartbeat.every;
  heartbeat_ = std::make_unique<drivers::DeliveryThread>(
      drivers::heartbeat_to(heartbeat), no_patience, [say](const drivers::DeliveryReport& report) {
        if (report.outcome.end != drivers::DeliveryEnd::Delivered) {
          say(LogLevel::Warning, "heartbeat: not delivered (" + report.outcome.why + ")");
        }
      });
}

void Notifier::take_state(const std::string& state) {
  if (targets_.empty()) {
    return;
  }
  const nlohmann::json read = nlohmann::json::parse(state, nullptr, /*allow_exceptions=*/false);
  for (Target& target : targets_) {
    target.notices.take(read);
  }
}

void Notifier::turn(Instant now) {
  for (Target& target : targets_) {
    if (!target.delivery->idle()) {
      continue;
    }
    if (const auto notice = target.notices.due(now.mono)) {
      const std::string id = fmt::format("{}-{}", run_, next_id_++);
      target.delivery->send(dispatch_of(*notice, id, site_, now.wall));
    }
  }
  beat(now.mono);
}

std::vector<ReceiverCounts> Notifier::counts() const {
  std::vector<ReceiverCounts> all;
  for (const Target& target : targets_) {
    all.push_back({target.name, target.by, target.delivery->counts()});
  }
  if (heartbeat_) {
    all.push_back({"heartbeat", "heartbeat", heartbeat_->counts()});
  }
  return all;
}

void Notifier::beat(MonoTime now) {
  const bool is_healthy = written_ && now - *written_ <= longest_without_record;
  const bool is_due = !beaten_ || now - *beaten_ >= beat_every_;
  if (!heartbeat_ || !is_healthy || !is_due || !heartbeat_->idle()) {
    return;
  }
  beaten_ = now;
  heartbeat_->send({});
}

}  // namespace brinegate::daemon
