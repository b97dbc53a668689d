// SPDX-License-Identifier: Apache-2.0
// See batch_sheet.h.
#include "daemon/batch_sheet.h"

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>

#include <fmt/format.h>
#include <fmt/ranges.h>
#include <nlohmann/json.hpp>

#include "config/cautions.h"
#include "config/page/html_page.h"
#include "config/page/svg.h"
#include "daemon/batch_effect.h"
#include "daemon/engine/view.h"
#include "daemon/record_view.h"
#include "rules/seawater.h"

namespace brinegate::daemon {
namespace {

using page::escaped;

constexpr double width = 800.0;
constexpr double height = 230.0;
constexpr page::Point plot_top_left{60.0, 12.0};
constexpr page::Point plot_bottom_right{780.0, 190.0};

std::string text_of(const Json& object, const char* key) {
  const auto found = object.find(key);
  if (found == object.end() || found->is_null()) {
    return "";
  }
  return found->is_string() ? found->get<std::string>() : found->dump();
}

std::optional<double> number_of(const Json& object, const char* key) {
  const auto found = object.find(key);
  return found != object.end() && found->is_number() ? std::optional(found->get<double>())
                                                     : std::nullopt;
}

Json object_of(const Json& object, const char* key) {
  const auto found = object.find(key);
  return found != object.end() && found->is_object() ? *found : Json::object();
}

double ppt(double psu) {
  return reference_salinity(PracticalSalinity(psu)).value();
}

std::string shown(std::optional<double> value, std::string_view unit, int decimals = 1) {
  return value ? fmt::format("{:.{}f} {}", *value, decimals, unit) : "not noted";
}

using Cells = std::vector<std::string>;

std::string row_of(const Cells& cells, const char* tag) {
  std::string row = "<tr>";
  for (const std::string& cell : cells) {
    row += fmt::format("<{0}>{1}</{0}>", tag, escaped(cell));
  }
  return row + "</tr>\n";
}

std::string untitled_table(const Cells& head, const std::vector<Cells>& rows) {
  if (rows.empty()) {
    return "";
  }
  std::string text = "<table>\n";
  if (!head.empty()) {
    text += row_of(head, "th");
  }
  for (const Cells& row : rows) {
    text += row_of(row, "td");
  }
  return text + "</table>\n";
}

std::string table(const char* title, const Cells& head, const std::vector<Cells>& rows) {
  return rows.empty() ? "" : fmt::format("<h2>{}</h2>\n", title) + untitled_table(head, rows);
}

const RecordRow* last_of(const BatchSheet& sheet, std::string_view kind) {
  const auto found = std::find_if(sheet.entries.rbegin(), sheet.entries.rend(),
                                  [kind](const RecordRow& row) { return row.entry.kind == kind; });
  return found == sheet.entries.rend() ? nullptr : &*found;
}

std::string lots_text(const Json& batch) {
  std::vector<std::string> parts;
  for (const Json& part : batch.value("lots", Json::array())) {
    const auto version = number_of(part, "version");
    const auto share = number_of(part, "share");
    parts.push_back(text_of(part, "lot") +
                    (version && *version > 0.0 ? fmt::format(", analysis {:.0f}", *version)
                                               : ", no analysis on record") +
                    (share && *share < 1.0 ? fmt::format(" ({:.0f} %)", 100.0 * *share) : ""));
  }
  return parts.empty() ? text_of(batch, "lot") : fmt::format("{}", fmt::join(parts, "; "));
}

// Digits beyond these say nothing of water.
std::string risk_text(double risk) {
  constexpr double least = 1e-5;
  return risk < least ? "under 0.001 %" : fmt::format("{:.2g} %", 100.0 * risk);
}

// What this batch is.
std::string headline(const BatchSheet& sheet, const Json& batch) {
  const RecordRow* const proven = last_of(sheet, "proven");
  if (proven == nullptr) {
    return fmt::format("Never proven; {}.", text_of(batch, "phase"));
  }
  const Json body = body_of(proven->entry.body);
  const Json proof = object_of(body, "proof");
  const double uncertainty = 2.0 * number_of(proof, "standard_uncertainty_psu").value_or(0.0);
  return fmt::format(
      "Proven {}: {:.2f} ± {:.2f} ppt (k = 2), {:.1f} °C; stated risk of being out of tolerance "
      "{}. "
      "It says: {}.",
      iso_time(proven->entry.at), ppt(number_of(proof, "salinity_psu").value_or(0.0)),
      ppt(uncertainty), number_of(proof, "temperature_c").value_or(0.0),
      risk_text(number_of(proof, "risk").value_or(1.0)), text_of(body, "says"));
}

std::string facts(const BatchSheet& sheet, const Json& batch) {
  const Json profile = object_of(batch, "profile");
  const double target = number_of(profile, "target_psu").value_or(0.0);
  const double tolerance = number_of(profile, "tolerance_psu").value_or(0.0);
  return table(
      "Batch", {},
      {{"Site, station", sheet.site + ", " + sheet.batch.station},
       {"Begun (UTC)", text_of(batch, "begun")},
       {"Lot", lots_text(batch)},
       {"Profile", fmt::format("{}: {:.2f} ± {:.2f} ppt", text_of(profile, "name"), ppt(target),
                               ppt(tolerance))},
       {"Salt weighed in",
        batch.value("salt_noted", false) ? shown(number_of(batch, "salt_g"), "g", 0) : "not noted"},
       {"Dry share of it", shown(100.0 * number_of(batch, "dry_fraction").value_or(0.0), "%")},
       {"In the reservoir when it began", shown(number_of(batch, "rest_l"), "L")},
       {"Drawn into the tank", shown(number_of(batch, "drawn_l"), "L")}});
}

std::string checks(const BatchSheet& sheet) {
  const RecordRow* const proven = last_of(sheet, "proven");
  std::vector<Cells> rows;
  if (proven != nullptr) {
    const Json body = body_of(proven->entry.body);
    for (const Json& check : body.value("checks", Json::array())) {
      // Whether it was proven is what was being decided.
      if (text_of(check, "verdict") == "not asked" || text_of(check, "id") == "batch-proven") {
        continue;
      }
      const Json waived = object_of(check, "waived");
      rows.push_back({text_of(check, "title"), text_of(check, "needed"), text_of(check, "measured"),
                      waived.empty() ? text_of(check, "verdict")
                                     : fmt::format("waived by {}: {}", text_of(waived, "by"),
                                                   text_of(waived, "reason"))});
    }
  }
  return table("Checks when it was proven", {"Check", "Needed", "Measured", ""}, rows);
}

std::string changes(const BatchSheet& sheet) {
  std::vector<Cells> rows;
  for (const RecordRow& row : sheet.entries) {
    if (row.entry.kind != "change-ended") {
      continue;
    }
    const Json body = body_of(row.entry.body);
    rows.push_back({iso_time(row.entry.at), text_of(body, "permit"),
                    shown(number_of(body, "asked_l"), "L"), shown(number_of(body, "drawn_l"), "L"),
                    text_of(body, "end")});
  }
  return table("Drawn under permit", {"Ended (UTC)", "Permit", "Asked", "Drawn", "Why it ended"},
               rows);
}

std::string notes(const BatchSheet& sheet) {
  std::vector<Cells> rows;
  for (const RecordRow& row : sheet.entries) {
    const Json body = body_of(row.entry.body);
    if (row.entry.kind == "noted") {
      rows.push_back({iso_time(row.entry.at), fmt::format("{} salt, {} water added, {} removed {}",
                                                          shown(number_of(body, "salt_g"), "g", 0),
                                                          shown(number_of(body, "water_l"), "L"),
                                                          shown(number_of(body, "removed_l"), "L"),
                                                          text_of(body, "text"))});
    } else if (row.entry.kind == "hand-test") {
      rows.push_back(
          {iso_time(row.entry.at),
           fmt::format("{} by hand: {}", text_of(body, "analyte"), text_of(body, "written"))});
    } else if (row.entry.kind == "waived") {
      rows.push_back(
          {iso_time(row.entry.at),
           fmt::format("{} waived by {} for {:.1f} h: {}", text_of(body, "check"),
                       text_of(body, "by"), number_of(body, "length_s").value_or(0.0) / 3600.0,
                       text_of(body, "reason"))});
    } else if (row.entry.kind == "proof-lost") {
      rows.push_back({iso_time(row.entry.at), "proof lost: " + text_of(body, "reason")});
    }
  }
  return table("What was done", {}, rows);
}

std::string expected(const BatchSheet& sheet) {
  const RecordRow* const told = last_of(sheet, last_of(sheet, "proven") ? "proven" : "batch-begun");
  if (told == nullptr) {
    return "";
  }
  std::vector<std::string> contents;
  const Json body = object_of(body_of(told->entry.body), "expected");
  for (const auto& [symbol, content] : body.items()) {
    contents.push_back(fmt::format(
        "{} {}", symbol, content.is_string() ? content.get<std::string>() : content.dump()));
  }
  return contents.empty() ? ""
                          : "<h2>Expected of the lots' analyses</h2>\n" +
                                page::html_paragraph(fmt::format("{}", fmt::join(contents, ", ")));
}

// What one change makes of the tank, of the analytes it moves most.
std::string effect(const BatchSheet& sheet) {
  std::vector<Cells> rows;
  for (const Json& row : most_moved(sheet.effect)) {
    const Json after = object_of(row, "after");
    rows.push_back({text_of(row, "name"), text_of(object_of(row, "tank"), "shown"),
                    text_of(after, "shown"), text_of(after, "interval"),
                    text_of(object_of(row, "wanted"), "shown")});
  }
  const std::string sentence = text_of(sheet.effect, "sentence");
  return "<h2>What it should do to the tank</h2>\n" + page::html_paragraph(sentence) +
         untitled_table({"", "From", "To", "95 % interval", "Wanted"}, rows);
}

std::string calibrations(const BatchSheet& sheet) {
  std::vector<std::string> all;
  for (const RecordRow& row : sheet.calibrations) {
    all.push_back(fmt::format("{} {}", text_of(body_of(row.entry.body), "probe"),
                              iso_time(row.entry.at).substr(0, 10)));
  }
  return "<h2>Probes calibrated</h2>\n" +
         page::html_paragraph(all.empty() ? "never on record"
                                          : fmt::format("{}", fmt::join(all, ", ")));
}

double hours_between(WallTime from, WallTime to) {
  return std::chrono::duration<double, std::ratio<3600>>(to - from).count();
}

// The salinity as the cells showed it, in the band of its profile, with the moment of its proof.
std::string course(const BatchSheet& sheet, const Json& batch) {
  std::vector<page::Point> points;
  for (const HistoryRow& row : sheet.salinity) {
    points.push_back({hours_between(sheet.salinity.front().at, row.at),
                      row.value ? ppt(*row.value) : std::nan("")});
  }
  if (points.size() < 2) {
    return "";
  }
  const Json profile = object_of(batch, "profile");
  const double target = number_of(profile, "target_psu").value_or(35.0);
  const double tolerance = number_of(profile, "tolerance_psu").value_or(1.0);
  const double low = ppt(target - tolerance);
  const double high = ppt(target + tolerance);
  double least = low;
  double most = high;
  for (const page::Point& point : points) {
    if (std::isfinite(point.y)) {
      least = std::min(least, point.y);
      most = std::max(most, point.y);
    }
  }
  const auto plain = [](double value) { return fmt::format("{:g}", value); };
  page::Svg svg(width, height, "Salinity of the batch over time");
  page::Plot plot(svg, plot_top_left, plot_bottom_right,
                  {0.0, std::max(0.1, points.back().x), false, "hours", plain, {}},
                  {least - 0.5, most + 0.5, false, "ppt", plain, {}});
  plot.clip();
  svg.rectangle(plot.at(0.0, low), plot.at(points.back().x, high), "tolerance");
  for (page::Point& point : points) {
    point = plot.at(point.x, point.y);
  }
  svg.path(points, "first");
  if (const RecordRow* proven = last_of(sheet, "proven")) {
    const double x = hours_between(sheet.salinity.front().at, proven->entry.at);
    svg.line(plot.at(x, least - 0.5), plot.at(x, most + 0.5), "mark");
  }
  svg.unclip();
  return page::html_figure(svg,
                           "Salinity by the cells, the profile's band, and (dotted) its proof.");
}

std::string seal(const BatchSheet& sheet) {
  if (sheet.entries.empty()) {
    return "";
  }
  const RecordRow& last = sheet.entries.back();
  return page::html_paragraph(
             fmt::format("Up to entry {} of the record. To see that neither was altered since:",
                         last.sequence)) +
         page::html_preformatted("brinegate record verify --contains " + last.chain);
}

}  // namespace

std::string batch_sheet_html(const BatchSheet& sheet) {
  const Json batch = body_of(sheet.batch.body);
  return page::html_page("Batch " + sheet.batch.key,
                         page::html_paragraph(headline(sheet, batch)) + course(sheet, batch) +
                             "<div>\n<div class=\"pair\">\n<div>" + facts(sheet, batch) +
                             "</div>\n<div>" + effect(sheet) + "</div>\n</div>\n" + checks(sheet) +
                             notes(sheet) + changes(sheet) + expected(sheet) + calibrations(sheet) +
                             "</div>\n" + seal(sheet) +
                             page::html_paragraph(config::cautions.front()));
}

}  // namespace brinegate::daemon
