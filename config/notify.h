// SPDX-License-Identifier: Apache-2.0
// Whom to tell of alarms, and who notices when nothing is told any more. No part of the site: what
// decides about water never sees it.
#pragma once

#include <chrono>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "rules/time.h"

namespace brinegate::config {

struct Webhook {
  std::string url;
  std::string secret_file;  // empty: not signed
};

struct Mail {
  std::string server;      // smtps://HOST:PORT, or smtp://HOST:PORT
  bool start_tls = false;  // of smtp: it must become TLS before anything is said
  std::string from;
  std::vector<std::string> to;
  std::string username;
  std::string password_file;
};

struct NotifyTarget {
  std::string name;
  std::variant<Webhook, Mail> by;
  std::string ca_file;  // empty: whom this computer trusts
  Duration repeat_every = std::chrono::hours(1);
};

struct Heartbeat {
  std::string url;
  std::string ca_file;
  Duration every = std::chrono::minutes(1);
};

struct Notify {
  std::vector<NotifyTarget> targets;
  std::optional<Heartbeat> heartbeat;
};

}  // namespace brinegate::config
