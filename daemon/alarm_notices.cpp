// SPDX-License-Identifier: Apache-2.0
// See alarm_notices.h.
#include "daemon/alarm_notices.h"

#include <set>

#include <nlohmann/json.hpp>

#include "config/words.h"
#include "rules/alarm.h"

namespace brinegate::daemon {
namespace {

constexpr std::size_t most_lines = 20;

const nlohmann::json& list_of(const nlohmann::json& state, const char* key) {
  static const nlohmann::json none = nlohmann::json::array();
  const auto found = state.find(key);
  return found != state.end() && found->is_array() ? *found : none;
}

bool is_standing(AlarmState state) {
  return state == AlarmState::Unacknowledged || state == AlarmState::Acknowledged;
}

bool is_unanswered(AlarmState state) {
  return state == AlarmState::Unacknowledged || state == AlarmState::ReturnedUnacknowledged;
}

}  // namespace

void AlarmNotices::take(const nlohmann::json& state) {
  const std::string station = state.value("station", "");
  std::map<std::string, const nlohmann::json*> listed;
  for (const nlohmann::json& alarm : list_of(state, "alarms")) {
    const std::string id = alarm.value("id", "");
    listed[id] = &alarm;
    alarms_[{station, id}];
  }
  std::set<std::string> shelved;
  for (const nlohmann::json& each : list_of(state, "shelved")) {
    shelved.insert(each.value("id", ""));
  }
  for (auto each = alarms_.lower_bound({station, ""});
       each != alarms_.end() && each->first.first == station; ++each) {
    const std::string& id = each->first.second;
    Followed& alarm = each->second;
    AlarmState now = AlarmState::Normal;
    if (const auto found = listed.find(id); found != listed.end()) {
      const nlohmann::json& told = *found->second;
      now = config::alarm_state_of(told.value("state", "")).value_or(AlarmState::Unacknowledged);
      alarm.line = {station,
                    id,
                    {},
                    1,
                    {},
                    told.value("cause", ""),
                    told.value("consequence", ""),
                    told.value("action", "")};
    }
    const bool was_shelved = std::exchange(alarm.shelved, shelved.count(id) > 0);
    const bool was_standing = std::exchange(alarm.standing, is_standing(now));
    const bool was_unanswered = std::exchange(alarm.unanswered, is_unanswered(now));
    alarm.line.state = config::word(now);
    const bool is_raised =
        alarm.unanswered && (!was_unanswered || (alarm.standing && !was_standing));
    if (alarm.shelved) {
      alarm.raised = 0;
    } else if (is_raised || (was_shelved && alarm.unanswered)) {
      ++alarm.raised;
    }
  }
}

std::optional<NoticeEvent> AlarmNotices::event_due(const Followed& alarm, MonoTime now) const {
  if (alarm.shelved) {
    return std::nullopt;
  }
  if (alarm.raised > 0) {
    return NoticeEvent::Raised;
  }
  if (alarm.told_standing && !alarm.standing) {
    return NoticeEvent::Returned;
  }
  if (alarm.unanswered && alarm.told_at && now - *alarm.told_at >= repeat_every_) {
    return NoticeEvent::Repeated;
  }
  return std::nullopt;
}

std::optional<AlarmNotice> AlarmNotices::due(MonoTime now) {
  std::vector<std::pair<Followed*, NoticeEvent>> due;
  for (auto each = alarms_.begin(); each != alarms_.end();) {
    Followed& alarm = each->second;
    const auto event = event_due(alarm, now);
    if (event) {
      due.emplace_back(&alarm, *event);
    }
    const bool has_gone = !event && !alarm.standing && !alarm.unanswered && !alarm.shelved;
    each = has_gone ? alarms_.erase(each) : std::next(each);
  }
  if (due.empty() || !rate_.allows(now)) {
    return std::nullopt;
  }
  AlarmNotice notice;
  for (const auto& [alarm, event] : due) {
    if (notice.lines.size() < most_lines) {
      notice.lines.push_back(alarm->line);
      notice.lines.back().event = event;
      notice.lines.back().times = event == NoticeEvent::Raised ? alarm->raised : 0;
    } else {
      ++notice.more;
    }
    alarm->raised = 0;
    alarm->told_standing = alarm->standing;
    alarm->told_at = now;
  }
  return notice;
}

}  // namespace brinegate::daemon
