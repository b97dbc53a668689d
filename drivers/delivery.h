// SPDX-License-Identifier: Apache-2.0
// Carries messages to a webhook or by mail, and the heartbeat. Blocks: belongs on a thread of its
// own (delivery_thread.h). TLS is always verified, redirections are never followed, and what is
// said of a failure holds neither an address nor a secret.
#pragma once

#include <atomic>
#include <functional>
#include <string>

#include "config/notify.h"
#include "rules/result.h"
#include "rules/time.h"

namespace brinegate::drivers {

struct Dispatch {
  std::string id;
  std::string subject;  // mail
  std::string text;     // mail
  std::string json;     // webhook
};

enum class DeliveryEnd {
  Delivered,
  TryLater,  // not reached, or it asks for patience
  Refused,   // the same again would be refused again
};

struct DeliveryOutcome {
  DeliveryEnd end = DeliveryEnd::TryLater;
  std::string why;  // "answered 503"
};

// One attempt; ends early where it is to stop.
using Carry = std::function<DeliveryOutcome(const Dispatch& dispatch, WallTime now,
                                            const std::atomic<bool>& stop)>;

// Error where the secret cannot be read.
Result<Carry> carry_to(const config::NotifyTarget& target);
Carry heartbeat_to(const config::Heartbeat& heartbeat);

// Standard Webhooks: "v1," and the Base64 of the HMAC-SHA-256 of "id.timestamp.body".
std::string webhook_signature(const std::string& key, const std::string& id,
                              const std::string& timestamp, const std::string& body);
// What a secret file says: its first line, or what it is the Base64 of behind "whsec_".
Result<std::string> webhook_key(const std::string& line);
// The whole message as it goes over the wire, CRLF and all.
std::string mail_message(const config::Mail& mail, const Dispatch& dispatch, WallTime now);

}  // namespace brinegate::drivers
