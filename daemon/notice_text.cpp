// SPDX-License-Identifier: Apache-2.0
// See notice_text.h.
#include "daemon/notice_text.h"

#include <array>
#include <string_view>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "daemon/engine/state_json.h"

namespace brinegate::daemon {
namespace {

std::string_view word(NoticeEvent event) {
  constexpr std::array<std::string_view, 3> words{"raised", "repeated", "returned"};
  return words.at(static_cast<std::size_t>(event));
}

std::string_view phrase(NoticeEvent event) {
  constexpr std::array<std::string_view, 3> phrases{"alarm", "still not acknowledged",
                                                    "back to normal"};
  return phrases.at(static_cast<std::size_t>(event));
}

std::string text_of(const AlarmNotice& notice, const std::string& site, WallTime at) {
  std::string text = fmt::format("Site {}, {}\n", site, iso_time(at));
  for (const NoticeLine& line : notice.lines) {
    text += fmt::format("\n{}: {}: {} ({})\n", line.station, line.alarm, phrase(line.event),
                        line.state);
    if (line.times > 1) {
      text += fmt::format("  Raised {} times.\n", line.times);
    }
    if (line.event != NoticeEvent::Returned) {
      text += fmt::format("  {}\n  {}\n  {}\n", line.cause, line.consequence, line.action);
    }
  }
  if (notice.more > 0) {
    text += fmt::format("\nAnd {} more.\n", notice.more);
  }
  return text;
}

}  // namespace

drivers::Dispatch dispatch_of(const AlarmNotice& notice, const std::string& id,
                              const std::string& site, WallTime at) {
  Json alarms = Json::array();
  for (const NoticeLine& line : notice.lines) {
    alarms.push_back({{"station", line.station},
                      {"alarm", line.alarm},
                      {"event", word(line.event)},
                      {"times", line.times},
                      {"state", line.state},
                      {"cause", line.cause},
                      {"consequence", line.consequence},
                      {"action", line.action}});
  }
  const Json json = {{"id", id},
                     {"site", site},
                     {"at", iso_time(at)},
                     {"more", notice.more},
                     {"alarms", std::move(alarms)}};
  const NoticeLine& first = notice.lines.front();
  const std::size_t others = notice.lines.size() - 1 + notice.more;
  return {id,
          fmt::format("[{}] {}: {}: {}{}", site, first.station, first.alarm, phrase(first.event),
                      others > 0 ? fmt::format(", and {} more", others) : ""),
          text_of(notice, site, at), dump(json)};
}

}  // namespace brinegate::daemon
