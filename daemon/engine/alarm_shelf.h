// SPDX-License-Identifier: Apache-2.0
// The alarms of a station that a person has put aside for a while ("shelved", ISA-18.2). Only what
// is announced of them rests: the station never hears of it, so what an alarm blocks stays blocked.
// Kept in memory alone: after a start nothing is shelved.
#pragma once

#include <chrono>
#include <map>
#include <string>
#include <utility>

#include "daemon/engine/effects.h"
#include "daemon/engine/request.h"
#include "daemon/engine/state_json.h"
#include "rules/alarm.h"
#include "rules/time.h"

namespace brinegate::daemon {

class AlarmShelf {
 public:
  explicit AlarmShelf(std::string station) : station_(std::move(station)) {}

  // What was asked for is done and goes on record; the answer's members but for its id.
  Json shelve(const ShelveAlarm& asked, Instant now, Append& append);
  Json unshelve(const UnshelveAlarm& asked, Instant now, Append& append);
  // Takes back those whose time is over.
  void lapse(Instant now, Append& append);

  [[nodiscard]] Json view(Instant now) const;
  // Changes where one was put aside or taken back.
  [[nodiscard]] std::string signature() const;

 private:
  struct Shelved {
    MonoTime until;
    std::string reason;
  };
  void note(const char* kind, AlarmId alarm, Json body, Instant now, Append& append) const;

  std::string station_;
  std::map<AlarmId, Shelved> shelved_;
};

// Whether it is one of the two that an AlarmShelf answers.
bool concerns_shelf(const Request& request);

}  // namespace brinegate::daemon
