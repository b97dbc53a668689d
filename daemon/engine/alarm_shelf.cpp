// SPDX-License-Identifier: Apache-2.0
#include "daemon/engine/alarm_shelf.h"

#include <cstdint>
#include <utility>
#include <variant>
#include <vector>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "config/advice.h"
#include "config/nearest.h"
#include "config/quantity.h"
#include "config/words.h"

namespace brinegate::daemon {
namespace {

Json answered(bool ok, std::string message) {
  return {{"ok", ok}, {"message", std::move(message)}, {"reasons", Json::array()}};
}

Json no_alarm(const std::string& name) {
  std::vector<std::string> known;
  for (std::size_t i = 0; i < alarm_count; ++i)
    known.emplace_back(config::word(static_cast<AlarmId>(i)));
  return answered(false, fmt::format("Refused: there is no alarm '{}': {}.", name,
                                     config::suggestion(name, known)));
}

std::int64_t whole_seconds(Duration time) {
  return std::chrono::ceil<std::chrono::seconds>(time).count();
}

}  // namespace

bool concerns_shelf(const Request& request) {
  return std::holds_alternative<ShelveAlarm>(request.act) ||
         std::holds_alternative<UnshelveAlarm>(request.act);
}

Json AlarmShelf::shelve(const ShelveAlarm& asked, Instant now, Append& append) {
  const auto alarm = config::alarm_of(asked.alarm);
  if (!alarm)
    return no_alarm(asked.alarm);
  shelved_[*alarm] = {now.mono + asked.time, asked.reason};
  note("alarm-shelved", *alarm, {{"for_s", whole_seconds(asked.time)}, {"reason", asked.reason}},
       now, append);
  return answered(true, fmt::format("For {} nothing is announced of {}; what it blocks stays "
                                    "blocked.",
                                    config::show(asked.time), asked.alarm));
}

Json AlarmShelf::unshelve(const UnshelveAlarm& asked, Instant now, Append& append) {
  const auto alarm = config::alarm_of(asked.alarm);
  if (!alarm)
    return no_alarm(asked.alarm);
  if (shelved_.erase(*alarm) == 0)
    return answered(false, "Refused: that alarm is not shelved.");
  note("alarm-unshelved", *alarm, {{"by_itself", false}}, now, append);
  return answered(true, fmt::format("{} is announced again.", asked.alarm));
}

void AlarmShelf::lapse(Instant now, Append& append) {
  for (auto each = shelved_.begin(); each != shelved_.end();) {
    if (now.mono < each->second.until) {
      ++each;
      continue;
    }
    note("alarm-unshelved", each->first, {{"by_itself", true}}, now, append);
    each = shelved_.erase(each);
  }
}

void AlarmShelf::note(const char* kind, AlarmId alarm, Json body, Instant now,
                      Append& append) const {
  body["id"] = config::word(alarm);
  body["cause"] = config::words_of(alarm).cause;
  append.entries.push_back({now.wall, station_, kind, dump(body)});
}

Json AlarmShelf::view(Instant now) const {
  Json all = Json::array();
  for (const auto& [alarm, shelved] : shelved_)
    all.push_back({{"id", config::word(alarm)},
                   {"cause", config::words_of(alarm).cause},
                   {"until", iso_time(now.wall + (shelved.until - now.mono))},
                   {"for_s", whole_seconds(shelved.until - now.mono)},
                   {"reason", shelved.reason}});
  return all;
}

std::string AlarmShelf::signature() const {
  std::string signature;
  for (const auto& [alarm, shelved] : shelved_)
    signature +=
        fmt::format("|{}<{}", config::word(alarm), shelved.until.time_since_epoch().count());
  return signature;
}

}  // namespace brinegate::daemon
