// SPDX-License-Identifier: Apache-2.0
#include "daemon/command_record.h"

#include <algorithm>
#include <chrono>
#include <cstdint>
#include <filesystem>
#include <fstream>
#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include <fmt/format.h>
#include <fmt/ostream.h>
#include <nlohmann/json.hpp>

#include "daemon/batch_effect.h"
#include "daemon/batch_sheet.h"
#include "daemon/command_ask.h"
#include "daemon/command_options.h"
#include "daemon/command_status_text.h"
#include "daemon/command_text.h"
#include "daemon/engine/state_json.h"
#include "daemon/history_tables.h"
#include "daemon/record_chain.h"
#include "daemon/record_view.h"
#include "daemon/store_tables.h"
#include "daemon/stored_library.h"
#include "drivers/clock.h"

namespace brinegate::daemon {
namespace {

constexpr std::size_t most_rows = 100'000;
constexpr int most_points = 600;  // of a curve on paper

std::string sentence_of(const Json& check) {
  return check.is_object() ? check.value("sentence", "") : "";
}

// What a line of the record says, without what the report's head says already.
std::string event_text(const Json& body) {
  Json facts = Json::object();
  for (const char* name : {"permit",
                           "volume_l",
                           "salt_g",
                           "salt_total_g",
                           "water_l",
                           "removed_l",
                           "asked_l",
                           "drawn_l",
                           "risk",
                           "observed_dry_fraction",
                           "end",
                           "reason",
                           "text",
                           "state",
                           "cause",
                           "standard",
                           "shown",
                           "read",
                           "slope",
                           "offset",
                           "probe",
                           "witness",
                           "deviation_percent",
                           "uncertainty_percent",
                           "agrees",
                           "verified"}) {
    if (const auto found = body.find(name);
        found != body.end() && *found != Json("") && *found != Json(0.0))
      facts[name] = *found;
  }
  std::string text = facts_line(facts);
  const auto add = [&text](const std::string& sentence) {
    if (!sentence.empty())
      text += (text.empty() ? "" : "; ") + sentence;
  };
  add(sentence_of(body));
  add(sentence_of(body.value("first_out", Json())));
  for (const Json& check : body.value("violated", Json::array()))
    add(sentence_of(check));
  return text;
}

// The head of a report.
Json batch_facts(const Json& body) {
  Json facts{{"profile", body.value("profile", Json::object()).value("name", "")}};
  for (const char* name :
       {"lot", "phase", "end", "begun", "salt_g", "dry_fraction", "dry_fraction_uncertainty",
        "dry_fraction_learned", "salt_factor", "rest_l", "drawn_l"}) {
    if (const auto found = body.find(name); found != body.end())
      facts[name] = *found;
  }
  if (const Json proof = body.value("proof", Json()); proof.is_object()) {
    for (const auto& [name, value] : proof.items()) {
      if (!value.is_structured() && !name.ends_with("_ns"))
        facts["proof_" + name] = value;
    }
  }
  return facts;
}

void tell(const Error& error, Console& console) {
  fmt::print(console.err, "brinegate: {}\n", error.message);
}

std::optional<RestoredStates> read_batches(const std::filesystem::path& data,
                                           const std::string& station, Console& console) {
  const auto states = query_states(data, "batch", station);
  if (states)
    return states.value();
  tell(states.error(), console);
  return std::nullopt;
}

std::optional<std::vector<RecordRow>> read_record(const std::filesystem::path& data,
                                                  const RecordQuery& query, Console& console) {
  const auto rows = query_record(data, query);
  if (rows)
    return rows.value();
  tell(rows.error(), console);
  return std::nullopt;
}

ExitStatus list(const Arguments& arguments, Console& console) {
  const auto data = find_data_folder(arguments, console);
  if (!data)
    return ExitStatus::Usage;
  const auto batches = read_batches(*data, std::string(arguments.operand(0)), console);
  if (!batches)
    return ExitStatus::Refused;
  Json all = Json::array();
  std::vector<std::vector<std::string>> rows;
  for (const StoredState& batch : *batches) {
    const Json body = body_of(batch.body);
    all.push_back({{"batch", batch.key}, {"station", batch.station}, {"state", body}});
    rows.push_back({batch.key, batch.station, facts_line(batch_facts(body))});
  }
  if (arguments.has(json_option.name))
    console.out << Json{{"batches", all}}.dump(2) << '\n';
  else
    console.out << (rows.empty() ? "No batches yet.\n" : aligned(rows, 0));
  return ExitStatus::Done;
}

void print_json(const StoredState& batch, const std::vector<RecordRow>& rows, const Json& effect,
                Console& console) {
  Json events = Json::array();
  for (const RecordRow& row : rows)
    events.push_back(record_view(row));
  const Json report{{"batch", batch.key},
                    {"station", batch.station},
                    {"state", body_of(batch.body)},
                    {"events", events},
                    {"tank_effect", effect}};
  console.out << report.dump(2) << '\n';
}

std::string effect_text(const Json& effect) {
  std::vector<std::vector<std::string>> lines;
  for (const Json& row : most_moved(effect))
    lines.push_back({row.at("name"), row.at("tank").at("shown"), "->", row.at("after").at("shown"),
                     fmt::format("(95 %: {})", row.at("after").at("interval").get<std::string>())});
  return lines.empty() ? "" : aligned(lines);
}

void print_report(const StoredState& batch, const std::vector<RecordRow>& rows, const Json& effect,
                  Console& console) {
  fmt::print(console.out, "Batch {} on station {}\n\n", batch.key, batch.station);
  console.out << facts_text(batch_facts(body_of(batch.body))) << "\nRecord (times in UTC)\n";
  std::vector<std::vector<std::string>> lines;
  for (const RecordRow& row : rows)
    lines.push_back({iso_time(row.entry.at), row.entry.kind, event_text(body_of(row.entry.body))});
  console.out << aligned(lines) << "\nWhat it should do to the tank\n"
              << wrapped(effect.at("sentence").get<std::string>(), 0, 0) << effect_text(effect);
}

// The latest of each probe, as long as the batch lived.
std::vector<RecordRow> calibrations_of(const std::filesystem::path& data,
                                       const std::string& station, Console& console) {
  const auto rows = read_record(
      data, {.station = station, .kinds = {"calibration"}, .limit = most_rows}, console);
  std::map<std::string, RecordRow> latest;
  for (const RecordRow& row : rows.value_or(std::vector<RecordRow>{}))
    latest[body_of(row.entry.body).value("probe", "")] = row;
  std::vector<RecordRow> all;
  for (auto& [probe, row] : latest)
    all.push_back(std::move(row));
  return all;
}

// What it does to the tank; nothing where --change cannot be read, which was said.
std::optional<Json> effect_of(const Arguments& arguments, const config::Site& site,
                              const StoredState& batch, const std::vector<RecordRow>& rows,
                              Console& console) {
  OptionReader reader(arguments, console);
  EffectQuestion question{batch, rows, {}, reader.find("change", parse_exchange)};
  if (!reader.all_read())
    return std::nullopt;
  for (const config::Station& each : site.stations)
    if (each.spec.name == batch.station)
      question.station = each;
  const auto library = stored_library(site.data);
  if (library)
    return batch_effect(question, *library, drivers::wall_now());
  tell(library.error(), console);
  return std::nullopt;
}

ExitStatus write_sheet(const std::string& file, const config::Site& site, const StoredState& batch,
                       std::vector<RecordRow> rows, Json effect, Console& console) {
  BatchSheet sheet{site.name, batch, std::move(rows), {}, {}, std::move(effect)};
  sheet.calibrations = calibrations_of(site.data, batch.station, console);
  if (!sheet.entries.empty()) {
    const WallTime from = sheet.entries.front().entry.at;
    const WallTime to = sheet.entries.back().entry.at + std::chrono::minutes(10);
    const Duration every = std::max<Duration>(std::chrono::seconds(1), (to - from) / most_points);
    const auto history = query_history(site.data, {batch.station, "salinity", from, to, every});
    if (history && *history)
      sheet.salinity = **history;
  }
  std::ofstream out(file, std::ios::binary);
  out << batch_sheet_html(sheet);
  out.close();
  if (!out) {
    tell(Error{fmt::format("cannot write {}", file)}, console);
    return ExitStatus::Refused;
  }
  fmt::print(console.out, "Wrote {}.\n", file);
  return ExitStatus::Done;
}

ExitStatus report(const Arguments& arguments, Console& console) {
  const auto site = find_site(arguments, console);
  if (!site)
    return ExitStatus::Usage;
  const std::string_view id = arguments.operand(0);
  const auto batches = read_batches(site->data, "", console);
  if (!batches)
    return ExitStatus::Refused;
  const auto batch = std::find_if(batches->begin(), batches->end(),
                                  [id](const StoredState& b) { return b.key == id; });
  if (batch == batches->end()) {
    fmt::print(console.err,
               "brinegate: no batch {} in the record: `brinegate batch list` names them\n", id);
    return ExitStatus::Usage;
  }
  auto found = query_batch(site->data, batch->station, batch->key);
  if (!found) {
    tell(found.error(), console);
    return ExitStatus::Refused;
  }
  std::vector<RecordRow> rows = std::move(found).value();
  auto effect = effect_of(arguments, *site, *batch, rows, console);
  if (!effect)
    return ExitStatus::Usage;
  if (arguments.has("html"))
    return write_sheet(std::string(arguments.option("html")), *site, *batch, std::move(rows),
                       std::move(*effect), console);
  if (arguments.has(json_option.name))
    print_json(*batch, rows, *effect, console);
  else
    print_report(*batch, rows, *effect, console);
  return ExitStatus::Done;
}

ExitStatus history(const Arguments& arguments, Console& console) {
  const auto data = find_data_folder(arguments, console);
  if (!data)
    return ExitStatus::Usage;
  auto rows = read_record(*data,
                          {.station = std::string(arguments.operand(0)),
                           .kinds = {"calibration", "verification", "map-entry-edited"},
                           .limit = most_rows},
                          console);
  if (!rows)
    return ExitStatus::Refused;
  const std::string_view probe = arguments.operand(1);
  std::erase_if(*rows, [probe](const RecordRow& row) {
    return body_of(row.entry.body).value("probe", "") != probe;
  });
  if (arguments.has(json_option.name)) {
    Json all = Json::array();
    for (const RecordRow& row : *rows)
      all.push_back(record_view(row));
    console.out << Json{{"history", all}}.dump(2) << '\n';
    return ExitStatus::Done;
  }
  std::vector<std::vector<std::string>> lines;
  for (const RecordRow& row : *rows)
    lines.push_back({iso_time(row.entry.at), row.entry.kind, event_text(body_of(row.entry.body))});
  console.out << (lines.empty() ? "Never calibrated or verified.\n" : aligned(lines, 0));
  return ExitStatus::Done;
}

std::string verdict_text(const ChainVerdict& verdict, std::string_view looked_for) {
  if (verdict.broken)
    return fmt::format(
        "Entry {} of the record is not what was written, or one before it is missing.\n",
        *verdict.broken);
  std::string text =
      verdict.entries == 0
          ? "The record is empty.\n"
          : fmt::format("All {} entries are as they were written. The last one's hash is\n  {}\n",
                        verdict.entries, verdict.last);
  if (!looked_for.empty())
    text += verdict.sought
                ? fmt::format("The hash asked for is that of entry {}.\n", *verdict.sought)
                : "No entry has the hash asked for: what was printed is no longer in the record.\n";
  return text;
}

ExitStatus verify(const Arguments& arguments, Console& console) {
  const auto data = find_data_folder(arguments, console);
  if (!data)
    return ExitStatus::Usage;
  const std::string_view looked_for = arguments.option("contains");
  const auto verdict = verify_chain(*data, std::string(looked_for));
  if (!verdict) {
    tell(verdict.error(), console);
    return ExitStatus::Refused;
  }
  const bool holds = !verdict->broken && (looked_for.empty() || verdict->sought);
  if (arguments.has(json_option.name)) {
    const auto number = [](std::optional<std::int64_t> sequence) {
      return sequence ? Json(*sequence) : Json();
    };
    console.out << Json{{"entries", verdict->entries},
                        {"last", verdict->last},
                        {"broken", number(verdict->broken)},
                        {"contains", number(verdict->sought)}}
                       .dump(2)
                << '\n';
  } else {
    (holds ? console.out : console.err) << verdict_text(*verdict, looked_for);
  }
  return holds ? ExitStatus::Done : ExitStatus::Refused;
}

}  // namespace

Command record_verify_command() {
  return {.words = "record verify",
          .summary = "whether the record is as it was written",
          .operands = {},
          .options = {{"contains", "HASH", "also whether this hash, from a batch sheet, is in it"},
                      config_option,
                      json_option},
          .notes =
              "Every entry carries a hash (SHA-256) of itself and of the one before. Whoever "
              "writes the whole record anew is found out by a hash that was printed before.",
          .run = verify};
}

Command batch_list_command() {
  return {.words = "batch list",
          .summary = "every batch in the record",
          .operands = {{"STATION", "only this one's", false}},
          .options = {config_option, json_option},
          .notes = {},
          .run = list};
}

Command batch_report_command() {
  return {.words = "batch report",
          .summary = "what was mixed, what was proven, and what became of it",
          .operands = {{"ID", "the batch, as in `brinegate batch list`"}},
          .options = {{"html", "FILE", "write a sheet that prints on one page"},
                      {"change", "40 L",
                       "what it would do to the tank; else what was drawn of it does, else the "
                       "most that one change may move"},
                      config_option,
                      json_option},
          .notes = {},
          .run = report};
}

Command probe_history_command() {
  return {.words = "probe history",
          .summary = "the calibrations and verifications of a probe",
          .operands = {station_operand, probe_operand},
          .options = {config_option, json_option},
          .notes = {},
          .run = history};
}

}  // namespace brinegate::daemon
