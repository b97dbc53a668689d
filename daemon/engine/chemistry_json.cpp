// SPDX-License-Identifier: Apache-2.0
#include "daemon/engine/chemistry_json.h"

#include <algorithm>
#include <utility>

#include "daemon/engine/json_reader.h"

namespace brinegate::daemon {
namespace {

constexpr const char* constant_rate = "constant-rate";
constexpr const char* proportional = "proportional";

std::string read_composition(const Json* json, Composition& composition) {
  return read_by_symbol(json, "composition", [&](const Json& member, Analyte analyte) {
    return read_content(member, composition[analyte].emplace());
  });
}

Json to_json(const AssayValue& v) {
  Json json = daemon::to_json(v.content);
  json["replicates"] = v.replicates;
  json["detection_limit"] = or_null(v.detection_limit);
  json["written"] = v.written;
  return json;
}

std::string read_assay_value(const Json& json, AssayValue& v) {
  std::string missing = read_content(json, v.content);
  Reader r(json);
  r.read("detection_limit", v.detection_limit);
  r.read("written", v.written);
  const Json* replicates = r.find("replicates");
  if (replicates == nullptr || !replicates->is_array())
    return "replicates";
  for (const Json& each : *replicates) {
    if (!each.is_number())
      return "replicates";
    v.replicates.push_back(each.get<double>());
  }
  return missing.empty() ? r.missing() : missing;
}

std::string read_assay(const Json* json, Assay& assay) {
  if (json == nullptr)
    return "assay";
  Reader r(*json);
  r.read("salinity_psu", assay.salinity);
  r.read("temperature_c", assay.temperature);
  r.read("method", assay.method);
  std::string missing =
      read_by_symbol(r.find("values"), "values", [&](const Json& member, Analyte analyte) {
        return read_assay_value(member, assay.values[analyte]);
      });
  return missing.empty() ? r.missing() : missing;
}

Json to_json(const Wanted& w) {
  return {{"low", w.range.low},
          {"high", w.range.high},
          {"weight", w.weight},
          {"never_above", w.never_above},
          {"source", w.source}};
}

std::string read_wanted(const Json& json, Wanted& w) {
  Reader r(json);
  r.read("low", w.range.low);
  r.read("high", w.range.high);
  r.read("weight", w.weight);
  r.read("never_above", w.never_above);
  r.read("source", w.source);
  return r.missing();
}

Json to_json(const Consumption& c) {
  return {{"kinetics", c.kinetics == Kinetics::Proportional ? proportional : constant_rate},
          {"per_day", c.per_day},
          {"standard_uncertainty", c.standard_uncertainty}};
}

std::string read_consumption(const Json& json, Consumption& c) {
  Reader r(json);
  std::string kinetics;
  r.read("kinetics", kinetics);
  if (kinetics != proportional && kinetics != constant_rate)
    r.miss("kinetics");
  c.kinetics = kinetics == proportional ? Kinetics::Proportional : Kinetics::ConstantRate;
  r.read("per_day", c.per_day);
  r.read("standard_uncertainty", c.standard_uncertainty);
  return r.missing();
}

template <class T>
Json by_symbol(const std::map<Analyte, T>& all) {
  Json json = Json::object();
  for (const auto& [analyte, each] : all)
    json[symbol(analyte)] = to_json(each);
  return json;
}

}  // namespace

std::string symbol(Analyte analyte) {
  return std::string(analyte_row(analyte).symbol);
}

std::optional<Analyte> analyte_of(std::string_view symbol) {
  const auto& rows = analytes();
  const auto found = std::find_if(rows.begin(), rows.end(),
                                  [&](const AnalyteRow& row) { return row.symbol == symbol; });
  return found == rows.end() ? std::nullopt : std::optional(found->analyte);
}

Json to_json(const CensoredValue& v) {
  return {{"low", v.low}, {"high", v.high}, {"standard_uncertainty", v.standard_uncertainty}};
}

std::string read_content(const Json& json, CensoredValue& v) {
  Reader r(json);
  r.read("low", v.low);
  r.read("high", v.high);
  r.read("standard_uncertainty", v.standard_uncertainty);
  return r.missing();
}

Json to_json(const Composition& composition) {
  Json json = Json::object();
  for (const AnalyteRow& row : analytes())
    if (const auto& content = composition[row.analyte])
      json[symbol(row.analyte)] = to_json(*content);
  return json;
}

Json to_json(const Assay& a) {
  return {{"salinity_psu", a.salinity.value()},
          {"temperature_c", a.temperature.value()},
          {"method", a.method},
          {"values", by_symbol(a.values)}};
}

Json to_json(const Lot& l) {
  return {{"name", l.name},
          {"version", l.version},
          {"salt", l.salt},
          {"expires", l.expires ? Json(iso_time(*l.expires)) : Json()},
          {"expires_ns", l.expires ? Json(ns(*l.expires)) : Json()},
          {"dry_fraction", or_null(l.dry_fraction)},
          {"assay", to_json(l.assay)},
          {"entered_by", l.entered_by},
          {"entered", iso_time(l.entered)},
          {"entered_ns", ns(l.entered)}};
}

Result<Lot> lot_from(std::string_view text) {
  const auto json = parse_own(text);
  if (!json)
    return json.error();
  Lot l;
  Reader r(*json);
  r.read("name", l.name);
  r.read("version", l.version);
  r.read("salt", l.salt);
  r.read("expires_ns", l.expires);
  r.read("dry_fraction", l.dry_fraction);
  r.read("entered_by", l.entered_by);
  r.read("entered_ns", l.entered);
  const std::string missing = read_assay(r.find("assay"), l.assay);
  if (!missing.empty() || !r.missing().empty())
    return lacks(missing.empty() ? r.missing() : missing);
  return l;
}

Json to_json(const std::vector<LotPart>& parts) {
  Json lots = Json::array();
  for (const LotPart& part : parts)
    lots.push_back({{"lot", part.lot},
                    {"version", part.version},
                    {"share", part.share},
                    {"expires_in_ns", part.expires_in ? Json(ns(*part.expires_in)) : Json()}});
  return lots;
}

Json to_json(const BatchSalt& salt) {
  return {{"lots", to_json(salt.parts)},
          {"composition", salt.composition ? to_json(*salt.composition) : Json()}};
}

std::string read_batch_salt(const Json& json, BatchSalt& salt) {
  Reader r(json);
  const Json* lots = r.find("lots");
  if (lots == nullptr || !lots->is_array())
    return "lots";
  for (const Json& each : *lots) {
    Reader p(each);
    LotPart& part = salt.parts.emplace_back();
    p.read("lot", part.lot);
    p.read("version", part.version);
    p.read("share", part.share);
    p.read("expires_in_ns", part.expires_in);
    if (!p.missing().empty())
      return p.missing();
  }
  const Json* composition = r.find("composition");
  return composition == nullptr ? "" : read_composition(composition, salt.composition.emplace());
}

Json to_json(const Tank& t) {
  return {{"name", t.name},
          {"volume_l", t.volume.value()},
          {"salinity_psu", t.salinity.value()},
          {"temperature_c", t.temperature.value()},
          {"wanted", by_symbol(t.wanted)},
          {"consumption", by_symbol(t.consumption)},
          {"salinity_step_psu", t.salinity_step.value()},
          {"temperature_step_c", t.temperature_step.value()}};
}

Result<Tank> tank_from(std::string_view text) {
  const auto json = parse_own(text);
  if (!json)
    return json.error();
  Tank t;
  Reader r(*json);
  r.read("name", t.name);
  r.read("volume_l", t.volume);
  r.read("salinity_psu", t.salinity);
  r.read("temperature_c", t.temperature);
  r.read("salinity_step_psu", t.salinity_step);
  r.read("temperature_step_c", t.temperature_step);
  std::string missing = read_by_symbol(
      r.find("wanted"), "wanted",
      [&](const Json& member, Analyte analyte) { return read_wanted(member, t.wanted[analyte]); });
  if (missing.empty())
    missing = read_by_symbol(r.find("consumption"), "consumption",
                             [&](const Json& member, Analyte analyte) {
                               return read_consumption(member, t.consumption[analyte]);
                             });
  if (!missing.empty() || !r.missing().empty())
    return lacks(missing.empty() ? r.missing() : missing);
  return t;
}

Json to_json(const std::string& tank, const WaterTest& t) {
  return {{"tank", tank},
          {"at", iso_time(t.at)},
          {"at_ns", ns(t.at)},
          {"by", t.by},
          {"assay", to_json(t.assay)}};
}

Result<TankTest> water_test_from(std::string_view text) {
  const auto json = parse_own(text);
  if (!json)
    return json.error();
  TankTest t;
  Reader r(*json);
  r.read("tank", t.tank);
  r.read("at_ns", t.test.at);
  r.read("by", t.test.by);
  const std::string missing = read_assay(r.find("assay"), t.test.assay);
  if (!missing.empty() || !r.missing().empty())
    return lacks(missing.empty() ? r.missing() : missing);
  return t;
}

Json to_json(const std::string& tank, const TankChange& c) {
  return {{"tank", tank},
          {"at", iso_time(c.at)},
          {"at_ns", ns(c.at)},
          {"volume_l", c.volume.value()},
          {"salinity_psu", c.salinity.value()},
          {"batch", c.batch},
          {"composition", c.composition ? to_json(*c.composition) : Json()}};
}

Result<ChangeOfTank> tank_change_from(std::string_view text) {
  const auto json = parse_own(text);
  if (!json)
    return json.error();
  ChangeOfTank c;
  Reader r(*json);
  r.read("tank", c.tank);
  r.read("at_ns", c.change.at);
  r.read("volume_l", c.change.volume);
  r.read("salinity_psu", c.change.salinity);
  r.read("batch", c.change.batch);
  std::string missing;
  if (const Json* composition = r.find("composition"))
    missing = read_composition(composition, c.change.composition.emplace());
  if (!missing.empty() || !r.missing().empty())
    return lacks(missing.empty() ? r.missing() : missing);
  return c;
}

}  // namespace brinegate::daemon
