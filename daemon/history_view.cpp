// SPDX-License-Identifier: Apache-2.0
// See history_view.h.
#include "daemon/history_view.h"

#include <algorithm>
#include <cstdint>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "config/quantity.h"
#include "config/wall_time.h"
#include "config/words.h"
#include "daemon/engine/view.h"

namespace brinegate::daemon {
namespace {

using namespace std::chrono_literals;

constexpr std::int64_t most_readings = 5000;
constexpr Duration longest_history = 24h * 3660;
constexpr int decimals = 4;

std::string word_of(const std::map<std::string, std::string>& words, const std::string& name) {
  const auto found = words.find(name);
  return found == words.end() ? "" : found->second;
}

Result<WallTime> time_of(const std::map<std::string, std::string>& words, const std::string& name,
                         WallTime otherwise) {
  if (!words.contains(name)) {
    return otherwise;
  }
  auto time = config::parse_time(word_of(words, name));
  return time ? time : Error{fmt::format("'{}': {}", name, time.error().message)};
}

Json number(std::optional<double> value) {
  return value ? rounded(*value, decimals) : Json();
}

std::string cell(std::optional<double> value) {
  return value ? fmt::format("{:.{}f}", *value, decimals) : "";
}

}  // namespace

Result<HistoryQuery> read_history_query(const std::map<std::string, std::string>& words,
                                        WallTime now) {
  HistoryQuery history{word_of(words, "station"), word_of(words, "probe"), now - 24h, now};
  if (history.station.empty() || history.probe.empty()) {
    return Error{"'station' and 'probe' are required; the probe 'salinity' is the combined value"};
  }
  const auto to = time_of(words, "to", now);
  const auto from = time_of(words, "from", (to ? *to : now) - 24h);
  if (!to || !from) {
    return to ? from.error() : to.error();
  }
  history.from = *from;
  history.to = *to;
  if (history.from >= history.to || history.to - history.from > longest_history) {
    return Error{"'from' must be before 'to', by ten years at most"};
  }
  if (words.contains("every")) {
    const auto every = config::parse_duration(word_of(words, "every"));
    if (!every || *every < 1s) {
      return Error{fmt::format("'every': {}", every ? "at least \"1 s\"" : every.error().message)};
    }
    history.every = *every;
  }
  history.every = std::max(history.every, (history.to - history.from) / most_readings);
  return history;
}

Json history_view(const HistoryQuery& query, const std::vector<HistoryRow>& rows) {
  Json readings = Json::array();
  for (const HistoryRow& row : rows) {
    readings.push_back({{"at", iso_time(row.at)},
                        {"value", number(row.value)},
                        {"low", number(row.low)},
                        {"high", number(row.high)},
                        {"quality", config::word(row.quality)}});
  }
  return {{"station", query.station},        {"probe", query.probe},
          {"from", iso_time(query.from)},    {"to", iso_time(query.to)},
          {"every_s", seconds(query.every)}, {"readings", readings}};
}

std::string history_csv(const std::vector<HistoryRow>& rows) {
  std::string text = "at,value,low,high,quality\r\n";
  for (const HistoryRow& row : rows) {
    text += fmt::format("{},{},{},{},{}\r\n", iso_time(row.at), cell(row.value), cell(row.low),
                        cell(row.high), config::word(row.quality));
  }
  return text;
}

}  // namespace brinegate::daemon
