// SPDX-License-Identifier: Apache-2.0
// What one receiver is to be told of alarms, and when (ISA-18.2: annunciated, re-alarmed, returned
// to normal). Follows the stations' whole states, so nothing depends on having seen each change.
// Pure: time is passed in, and what is due is asked for.
#pragma once

#include <chrono>
#include <cstddef>
#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include <nlohmann/json_fwd.hpp>

#include "daemon/engine/rate_limit.h"
#include "rules/time.h"

namespace brinegate::daemon {

enum class NoticeEvent { Raised, Repeated, Returned };

struct NoticeLine {
  std::string station;
  std::string alarm;
  NoticeEvent event = NoticeEvent::Raised;
  int times = 1;      // raised since the last notice
  std::string state;  // by now
  std::string cause;
  std::string consequence;
  std::string action;
};

struct AlarmNotice {
  std::vector<NoticeLine> lines;  // the first ones
  std::size_t more = 0;           // alarms beyond these
};

class AlarmNotices {
 public:
  explicit AlarmNotices(Duration repeat_every) : repeat_every_(repeat_every) {}

  // A station's whole state, as published.
  void take(const nlohmann::json& state);
  // What is to be said now, all in one; it counts as said. Ask only while it can be sent.
  std::optional<AlarmNotice> due(MonoTime now);

 private:
  struct Followed {
    NoticeLine line;
    bool standing = false;    // its condition is there
    bool unanswered = false;  // nobody has acknowledged it
    bool shelved = false;
    int raised = 0;  // since it was last told
    bool told_standing = false;
    std::optional<MonoTime> told_at;
  };
  [[nodiscard]] std::optional<NoticeEvent> event_due(const Followed& alarm, MonoTime now) const;

  Duration repeat_every_;
  RateLimit rate_{4, std::chrono::minutes(1)};
  std::map<std::pair<std::string, std::string>, Followed> alarms_;  // by station and id
};

}  // namespace brinegate::daemon
