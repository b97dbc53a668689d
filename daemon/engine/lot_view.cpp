// SPDX-License-Identifier: Apache-2.0
#include "daemon/engine/lot_view.h"

#include <cstdlib>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "config/chemistry/chemistry_advice.h"
#include "daemon/engine/json_reader.h"
#include "daemon/engine/view.h"
#include "rules/chemistry/assay_sanity.h"
#include "rules/seawater.h"

namespace brinegate::daemon {
namespace {

using config::WaterOfSample;

// No analysis has more digits.
double six_digits(double number) {
  return std::strtod(fmt::format("{:.6g}", number).c_str(), nullptr);
}

double in_unit(double content, Analyte analyte, const WaterOfSample& water) {
  return six_digits(config::shown_number(content, analyte, water));
}

Json finding_view(const AssayFinding& finding, const Assay& assay) {
  return {{"kind", config::word(finding.kind)},
          {"analyte", finding.analyte ? Json(analyte_row(*finding.analyte).symbol) : Json()},
          {"sentence", config::sentence(finding, assay)}};
}

Json sanity_view(const Assay& assay) {
  const AssaySanity sanity = assay_sanity(assay);
  Json balance;
  if (sanity.charge_balance)
    balance = rounded(100.0 * *sanity.charge_balance, 3);
  return {{"cations_mmol_kg", or_null(sanity.cations)},
          {"anions_mmol_kg", or_null(sanity.anions)},
          {"charge_balance_percent", balance},
          {"inferred_chlorine",
           sanity.inferred_chlorine
               ? number_view(*sanity.inferred_chlorine, Analyte::Chlorine, config::water_of(assay))
               : Json()},
          {"implied_salinity_g_kg", or_null(sanity.implied_salinity)},
          {"findings", findings_view(assay)}};
}

Json value_view(Analyte analyte, const AssayValue& value, const Composition& composition,
                const WaterOfSample& water) {
  Json row = analyte_view(analyte);
  row["written"] = value.written;
  row["line"] = value.line > 0 ? Json(value.line) : Json();
  row["content"] = content_view(content_at(water.salinity, composition, analyte), analyte, water);
  const auto& natural = analyte_row(analyte).natural;
  row["natural"] =
      natural ? number_view(*natural * (water.salinity / composition_salinity), analyte, water)
              : Json();
  return row;
}

bool anything(const Json& contents) {
  return std::any_of(contents.begin(), contents.end(),
                     [](const Json& content) { return !content.is_null(); });
}

}  // namespace

Json analyte_view(Analyte analyte) {
  const AnalyteRow& row = analyte_row(analyte);
  return {{"analyte", row.symbol},
          {"name", config::word(analyte)},
          {"group", config::word(row.group)},
          {"unit", config::shown_unit(analyte)}};
}

Json content_view(const CensoredValue& content, Analyte analyte, const WaterOfSample& water) {
  return {{"low", in_unit(content.low, analyte, water)},
          {"high", in_unit(content.high, analyte, water)},
          {"standard_uncertainty", in_unit(content.standard_uncertainty, analyte, water)},
          {"shown", config::show_content(content, analyte, water)}};
}

Json content_view(const std::optional<CensoredValue>& content, Analyte analyte,
                  const WaterOfSample& water) {
  return content ? content_view(*content, analyte, water) : Json();
}

Json number_view(double content, Analyte analyte, const WaterOfSample& water) {
  return in_unit(content, analyte, water);
}

Json wanted_view(const std::optional<Wanted>& wanted, Analyte analyte, const WaterOfSample& water) {
  if (!wanted)
    return {};
  return {{"low", in_unit(wanted->range.low, analyte, water)},
          {"high", in_unit(wanted->range.high, analyte, water)},
          {"weight", wanted->weight},
          {"never_above", wanted->never_above},
          {"source", wanted->source},
          {"shown", config::show_range(wanted->range, analyte, water)}};
}

Json findings_view(const Assay& assay) {
  Json findings = Json::array();
  for (const AssayFinding& finding : assay_sanity(assay).findings)
    findings.push_back(finding_view(finding, assay));
  return findings;
}

Json lot_summary(const Lot& lot) {
  Json expires;
  if (lot.expires)  // its last day
    expires = iso_time(*lot.expires - std::chrono::seconds(1)).substr(0, 10);
  return {{"lot", lot.name},
          {"version", lot.version > 0 ? Json(lot.version) : Json()},
          {"salt", lot.salt},
          {"expires", expires},
          {"dry_fraction", or_null(lot.dry_fraction)},
          {"entered", lot.version > 0 ? Json(iso_time(lot.entered)) : Json()},
          {"entered_by", lot.entered_by},
          {"values", lot.assay.values.size()},
          {"findings", assay_sanity(lot.assay).findings.size()}};
}

Json lot_view(const Lot& lot, PracticalSalinity at) {
  const WaterOfSample water{at, lot.assay.temperature, false};
  const Composition composition = composition_of(lot.assay);
  Json analytes = Json::array();
  for (const auto& [analyte, value] : lot.assay.values)
    analytes.push_back(value_view(analyte, value, composition, water));
  Json view = lot_summary(lot);
  view["sample"] = salinity_view(lot.assay.salinity);
  view["sample"]["temperature_c"] = lot.assay.temperature.value();
  view["sample"]["method"] = lot.assay.method;
  view["at"] = salinity_view(at);
  view["analytes"] = analytes;
  view["sanity"] = sanity_view(lot.assay);
  return view;
}

Json compare_view(std::span<const Lot> lots, const Tank* tank, PracticalSalinity at, WallTime now) {
  const WaterOfSample water{at, tank != nullptr ? tank->temperature : Celsius(25.0), false};
  Json heads = Json::array();
  std::vector<Composition> compositions;
  for (const Lot& lot : lots) {
    heads.push_back(lot_summary(lot));
    compositions.push_back(composition_of(lot.assay));
  }
  Json rows = Json::array();
  for (const AnalyteRow& each : analytes()) {
    const Analyte analyte = each.analyte;
    Json of_lots = Json::array();
    for (const Composition& composition : compositions)
      of_lots.push_back(content_view(content_at(at, composition, analyte), analyte, water));
    Json of_tank;
    if (const auto content = tank != nullptr ? content_now(*tank, analyte, now) : std::nullopt)
      of_tank = content_view(content->content, analyte, config::water_of(*tank));
    if (of_tank.is_null() && !anything(of_lots))
      continue;
    Json row = analyte_view(analyte);
    row["wanted"] =
        wanted_view(tank != nullptr ? wanted_of(*tank, analyte) : std::nullopt, analyte, water);
    row["natural"] = each.natural
                         ? number_view(*each.natural * (at / composition_salinity), analyte, water)
                         : Json();
    row["tank"] = of_tank;
    row["lots"] = of_lots;
    rows.push_back(row);
  }
  return {{"at", salinity_view(at)},
          {"tank", tank != nullptr ? Json(tank->name) : Json()},
          {"lots", heads},
          {"analytes", rows}};
}

}  // namespace brinegate::daemon
