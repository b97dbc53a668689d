// SPDX-License-Identifier: Apache-2.0
#include "daemon/command_status_text.h"

#include <algorithm>
#include <array>
#include <string_view>
#include <utility>
#include <vector>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "config/quantity.h"
#include "daemon/command_health_text.h"
#include "daemon/command_text.h"
#include "daemon/json_member.h"
#include "rules/time.h"

namespace brinegate::daemon {
namespace {

using Json = nlohmann::ordered_json;
using Rows = std::vector<std::vector<std::string>>;

// A copy, so that a default may be a temporary.
Json member(const Json& object, const char* key, const Json& otherwise) {
  const auto found = object.find(key);
  return found != object.end() && !found->is_null() ? *found : otherwise;
}

std::string duration_text(double duration_s) {
  return config::show(from_seconds(duration_s));
}

// Endings of the names of numbers, longest first, and the unit they stand for.
constexpr std::array<std::pair<std::string_view, std::string_view>, 7> units{{{"_percent", "%"},
                                                                              {"_g_kg", "g/kg"},
                                                                              {"_ms_cm", "mS/cm"},
                                                                              {"_psu", "PSU"},
                                                                              {"_l", "L"},
                                                                              {"_g", "g"},
                                                                              {"_c", "°C"}}};

std::pair<std::string, std::string> fact(std::string name, const Json& value) {
  std::string text = value.is_string()    ? value.get<std::string>()
                     : value.is_boolean() ? (value.get<bool>() ? "yes" : "no")
                     : value.is_number()  ? fmt::format("{:.6g}", value.get<double>())
                                          : value.dump();
  if (value.is_number() && name.ends_with("_s")) {
    text = duration_text(value.get<double>());
    name.resize(name.size() - 2);
  } else if (value.is_number()) {
    const auto* const unit = std::find_if(
        units.begin(), units.end(), [&name](const auto& u) { return name.ends_with(u.first); });
    if (unit != units.end()) {
      text += fmt::format(" {}", unit->second);
      name.resize(name.size() - unit->first.size());
    }
  }
  std::replace(name.begin(), name.end(), '_', ' ');
  return {name, text};
}

Rows facts_of(const Json& object) {
  Rows rows;
  for (const auto& [name, value] : object.items()) {
    if (value.is_null() || value.is_structured())
      continue;
    auto [label, text] = fact(name, value);
    rows.push_back({std::move(label), std::move(text)});
  }
  return rows;
}

std::string section(std::string_view title, const std::string& body) {
  return body.empty() ? "" : fmt::format("\n{}\n{}", title, body);
}

std::string checks_text(const Json& station) {
  Rows rows;
  for (const Json& check : member(station, "checks", Json::array())) {
    const std::string verdict = text_of(check, "verdict");
    std::string line = text_of(check, "measured");
    if (const std::string needed = text_of(check, "needed"); !needed.empty())
      line += fmt::format("{}needed: {}", line.empty() ? "" : "; ", needed);
    if (const Json since = member(check, "since_s", Json()); since.is_number())
      line += fmt::format("{}for {}", line.empty() ? "" : "; ", duration_text(since.get<double>()));
    rows.push_back({verdict, text_of(check, "id"), line});
    if (const std::string sentence = text_of(check, "sentence");
        verdict != "met" && verdict != "not asked" && !sentence.empty())
      rows.push_back({"", "", sentence});
    if (const Json waived = member(check, "waived", Json()); waived.is_object())
      rows.push_back({"WAIVED", "", text_of(waived, "sentence")});
  }
  return aligned(rows);
}

std::string readings_text(const Json& station) {
  Rows rows;
  const Json readings = member(station, "readings", Json::object());
  for (const auto& [name, reading] : readings.items()) {
    const Json value = member(reading, "value", Json());
    const std::string shown =
        value.is_number() ? fmt::format("{:.6g} {}", value.get<double>(), text_of(reading, "unit"))
                          : "no value";
    std::string quality = text_of(reading, "quality");
    if (const std::string reason = text_of(reading, "reason"); !reason.empty() && reason != "none")
      quality += fmt::format(": {}", reason);
    if (const Json age = member(reading, "age_s", Json()); age.is_number())
      quality += fmt::format(", {} old", duration_text(age.get<double>()));
    if (member(reading, "verified", Json(true)) == Json(false))
      quality += ", not verified";
    rows.push_back({name, shown, quality});
  }
  return aligned(rows);
}

std::string advice_text(const Json& station) {
  std::string text;
  for (const Json& way : member(station, "advice", Json::array())) {
    text += "  " + wrapped(text_of(way, "sentence"), 2, 2);
    if (!way.value("fits", true))
      text += "  (does not fit into the reservoir)\n";
  }
  return text;
}

}  // namespace

std::string facts_text(const Json& object) {
  return aligned(facts_of(object));
}

std::string facts_line(const Json& object) {
  std::string line;
  for (const auto& row : facts_of(object))
    line += fmt::format("{}{} {}", line.empty() ? "" : ", ", row[0], row[1]);
  return line;
}

std::string alarms_text(const Json& station) {
  Rows rows;
  for (const Json& alarm : member(station, "alarms", Json::array())) {
    rows.push_back({text_of(alarm, "id"), text_of(alarm, "state"),
                    fmt::format("{} {} {}", text_of(alarm, "cause"), text_of(alarm, "consequence"),
                                text_of(alarm, "action"))});
  }
  for (const Json& shelved : member(station, "shelved", Json::array())) {
    const Duration left = std::chrono::seconds(shelved.value("for_s", std::int64_t{0}));
    const std::string reason = text_of(shelved, "reason");
    rows.push_back({text_of(shelved, "id"), "shelved",
                    fmt::format("Not announced for {}{}{}.", config::show(left),
                                reason.empty() ? "" : ": ", reason)});
  }
  return aligned(rows);
}

std::string station_text(const Json& station) {
  const std::string name = text_of(station, "station");
  std::string text = fmt::format("{}: ", name);
  text += wrapped(text_of(station, "headline"), 2, name.size() + 2);
  text += fmt::format("  phase {}, gate {}\n", text_of(station, "phase"), text_of(station, "gate"));
  text += section("Checks", checks_text(station));
  text += section("Readings", readings_text(station));
  text += section("Salinity", facts_text(member(station, "salinity", Json::object())));
  text += section("Batch", facts_text(member(station, "batch", Json::object())));
  text += section("Dose", facts_text(member(station, "dose", Json::object())));
  text += section("Permit", facts_text(member(station, "permit", Json::object())));
  text += section("Change", facts_text(member(station, "change", Json::object())));
  text += section("Advice", advice_text(station));
  text += section("Calibration due", calibrations_due_text(station));
  text += section("Alarms", alarms_text(station));
  return text;
}

}  // namespace brinegate::daemon
