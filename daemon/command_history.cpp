// SPDX-License-Identifier: Apache-2.0
#include "daemon/command_history.h"

#include <map>
#include <string>
#include <vector>

#include <fmt/format.h>
#include <fmt/ostream.h>
#include <nlohmann/json.hpp>

#include "config/words.h"
#include "daemon/command_ask.h"
#include "daemon/command_options.h"
#include "daemon/command_text.h"
#include "daemon/engine/view.h"
#include "daemon/history_view.h"
#include "drivers/clock.h"

namespace brinegate::daemon {
namespace {

std::string shown(std::optional<double> value) {
  return value ? fmt::format("{:.3f}", *value) : "-";
}

std::string table_of(const std::vector<HistoryRow>& rows) {
  std::vector<std::vector<std::string>> lines{{"at (UTC)", "mean", "lowest", "highest", ""}};
  for (const HistoryRow& row : rows)
    lines.push_back({iso_time(row.at), shown(row.value), shown(row.low), shown(row.high),
                     std::string(config::word(row.quality))});
  return aligned(lines, 0);
}

ExitStatus refuse(const std::string& why, ExitStatus status, Console& console) {
  fmt::print(console.err, "brinegate: {}\n", why);
  return status;
}

ExitStatus history(const Arguments& arguments, Console& console) {
  std::map<std::string, std::string> words{{"station", std::string(arguments.operand(0))},
                                           {"probe", std::string(arguments.operand(1))}};
  for (const char* name : {"from", "to", "every"})
    if (arguments.has(name))
      words[name] = arguments.option(name);
  const auto query = read_history_query(words, drivers::wall_now());
  if (!query)
    return refuse(query.error().message, ExitStatus::Usage, console);
  const auto data = find_data_folder(arguments, console);
  if (!data)
    return ExitStatus::Usage;
  const auto rows = query_history(*data, *query);
  if (!rows)
    return refuse(rows.error().message, ExitStatus::Refused, console);
  if (!*rows)
    return refuse(fmt::format("nothing is kept of a probe '{}' of station '{}'", query->probe,
                              query->station),
                  ExitStatus::Usage, console);
  if (arguments.has(json_option.name))
    console.out << history_view(*query, **rows).dump(2) << '\n';
  else if (arguments.has("csv"))
    console.out << history_csv(**rows);
  else
    console.out << table_of(**rows);
  return ExitStatus::Done;
}

}  // namespace

Command history_command() {
  return {
      .words = "history",
      .summary = "what a probe has read",
      .operands = {station_operand,
                   {"PROBE", "its name in the configuration, or salinity for the combined value"}},
      .options = {{"from", "2026-11-02T18:00", "instead of a day before its end; UTC"},
                  {"to", "2026-11-03", "not included; now where it is not said"},
                  {"every", "1 min", "a row for each such interval; as many as a curve needs"},
                  config_option,
                  {"csv", "", "print CSV"},
                  json_option},
      .notes =
          "Conductivity is in mS/cm, salinity in PSU, temperature in °C, a level in litres and a "
          "flow in L/min. Readings are kept for a while, what was of each minute for longer, "
          "and of each hour for good.",
      .run = history};
}

}  // namespace brinegate::daemon
