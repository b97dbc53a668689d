// SPDX-License-Identifier: Apache-2.0
#include "daemon/engine/state_json.h"

#include <cmath>
#include <limits>

#include <fmt/format.h>

#include "config/words.h"
#include "daemon/engine/chemistry_json.h"
#include "daemon/engine/json_reader.h"

namespace brinegate::daemon {
namespace {

using config::word;

Json ranges_json(const std::map<Analyte, ContentRange>& ranges) {
  Json json = Json::object();
  for (const auto& [analyte, range] : ranges)
    json[symbol(analyte)] = {{"low", range.low},
                             {"high", std::isfinite(range.high) ? Json(range.high) : Json()}};
  return json;
}

std::string read_ranges(const Json* json, const char* key,
                        std::map<Analyte, ContentRange>& ranges) {
  return read_by_symbol(json, key, [&ranges](const Json& member, Analyte analyte) {
    Reader r(member);
    std::optional<double> high;
    ContentRange& range = ranges[analyte];
    r.read("low", range.low);
    r.read("high", high);
    range.high = high.value_or(std::numeric_limits<double>::infinity());
    return r.missing();
  });
}

Json to_json(const std::set<CheckId>& checks) {
  Json names = Json::array();
  for (const CheckId id : checks)
    names.push_back(word(id));
  return names;
}

void read_checks(Reader& r, const char* key, std::set<CheckId>& checks) {
  const Json* names = r.find(key);
  if (names == nullptr || !names->is_array())
    return r.miss(key);
  for (const Json& name : *names) {
    const auto id = name.is_string() ? config::check_of(name.get<std::string>()) : std::nullopt;
    if (!id)
      return r.miss(key);
    checks.insert(*id);
  }
}

Json to_json(const Profile& p) {
  return {{"name", p.name},
          {"target_psu", p.target.value()},
          {"tolerance_psu", p.tolerance.value()},
          {"risk", p.risk},
          {"temperature_low_c", p.temperature_low.value()},
          {"temperature_high_c", p.temperature_high.value()},
          {"circulate_ns", ns(p.circulate)},
          {"keep_ns", ns(p.keep)},
          {"standing_ns", ns(p.standing)},
          {"still_to_dissolve_psu", p.still_to_dissolve.value()},
          {"slowest_part_ns", ns(p.slowest_part)},
          {"dose_required", p.dose_required},
          {"lot_required", p.lot_required},
          {"waivable", to_json(p.waivable)},
          {"limits", ranges_json(p.limits)},
          {"hand_tests", ranges_json(p.hand_tests)}};
}

// What no configuration could have said: the record is damaged.
std::string out_of_range(const Profile& p) {
  const bool sound = p.target > PracticalSalinity(0.0) && p.tolerance > PracticalSalinity(0.0) &&
                     p.risk > 0.0 && p.risk <= 0.5 &&
                     p.still_to_dissolve > PracticalSalinity(0.0) && p.slowest_part > Duration(0) &&
                     p.temperature_low <= p.temperature_high && p.circulate >= Duration(0) &&
                     p.keep > Duration(0) && p.standing >= Duration(0);
  return sound ? "" : "numbers that a profile can have";
}

std::string read_profile(const Json& json, Profile& p) {
  Reader r(json);
  r.read("name", p.name);
  r.read("target_psu", p.target);
  r.read("tolerance_psu", p.tolerance);
  r.read("risk", p.risk);
  r.read("temperature_low_c", p.temperature_low);
  r.read("temperature_high_c", p.temperature_high);
  r.read("circulate_ns", p.circulate);
  r.read("keep_ns", p.keep);
  r.read("standing_ns", p.standing);
  r.read("still_to_dissolve_psu", p.still_to_dissolve);
  r.read("slowest_part_ns", p.slowest_part);
  r.read("dose_required", p.dose_required);
  r.read("lot_required", p.lot_required);
  read_checks(r, "waivable", p.waivable);
  std::string missing = read_ranges(r.find("limits"), "limits", p.limits);
  if (missing.empty())
    missing = read_ranges(r.find("hand_tests"), "hand_tests", p.hand_tests);
  if (missing.empty())
    missing = r.missing();
  return missing.empty() ? out_of_range(p) : missing;
}

Json to_json(const Proof& p) {
  return {{"salinity_psu", p.salinity.value()},
          {"standard_uncertainty_psu", p.standard_uncertainty},
          {"risk", p.risk},
          {"temperature_c", p.temperature.value()},
          {"volume_l", or_null(p.volume)},
          {"waived", to_json(p.waived)},
          {"at_ns", ns(p.at)},
          {"at", iso_time(p.at)}};
}

std::string read_proof(const Json& json, Proof& p) {
  Reader r(json);
  r.read("salinity_psu", p.salinity);
  r.read("standard_uncertainty_psu", p.standard_uncertainty);
  r.read("risk", p.risk);
  r.read("temperature_c", p.temperature);
  r.read("volume_l", p.volume);
  read_checks(r, "waived", p.waived);
  r.read("at_ns", p.at);
  return r.missing();
}

Json to_json(const ReliedOn& relied) {
  Json entries = Json::object();
  for (const auto& [probe, entry] : relied.map_entries)
    entries[probe] = entry;
  Json lots = Json::object();
  for (const auto& [lot, version] : relied.lots)
    lots[lot] = version;
  return {{"profile", relied.profile ? to_json(*relied.profile) : Json()},
          {"probes", entries},
          {"lots", lots}};
}

std::string read_relied_on(const Json& json, ReliedOn& relied) {
  Reader r(json);
  std::string missing;
  if (const Json* profile = r.find("profile"))
    missing = read_profile(*profile, relied.profile.emplace());
  const auto read_all = [&](const char* key, auto& into) {
    const Json* object = r.find(key);
    if (object == nullptr || !object->is_object())
      return r.miss(key);
    Reader members(*object);
    for (const auto& item : object->items())
      members.read(item.key().c_str(), into[item.key()]);
    if (!members.missing().empty())
      r.miss(members.missing());
  };
  read_all("probes", relied.map_entries);
  read_all("lots", relied.lots);
  return missing.empty() ? r.missing() : missing;
}

Json to_json(const SaltPortion& p) {
  return {{"salt", daemon::to_json(p.salt)},
          {"dry_fraction", p.product.dry_fraction},
          {"dry_fraction_uncertainty", p.product.dry_fraction_uncertainty},
          {"dry_fraction_learned", p.product.learned},
          {"weighed_g", p.weighed.value()},
          {"dry_g", p.dry.value()}};
}

std::string read_portion(const Json& json, SaltPortion& p) {
  Reader r(json);
  r.read("dry_fraction", p.product.dry_fraction);
  r.read("dry_fraction_uncertainty", p.product.dry_fraction_uncertainty);
  r.read("dry_fraction_learned", p.product.learned);
  r.read("weighed_g", p.weighed);
  r.read("dry_g", p.dry);
  const Json* salt = r.find("salt");
  std::string missing = salt == nullptr ? "salt" : read_batch_salt(*salt, p.salt);
  return missing.empty() ? r.missing() : missing;
}

std::string read_portions(const Json* json, Batch& b) {
  if (json == nullptr || !json->is_array())
    return "portions";
  for (const Json& each : *json)
    if (std::string missing = read_portion(each, b.portions.emplace_back()); !missing.empty())
      return missing;
  if (!b.portions.empty())
    remix(b);
  return "";
}

std::string read_hand_test(const Json& json, HandTest& t) {
  Reader r(json);
  r.read("salinity_psu", t.salinity);
  r.read("at_ns", t.at);
  r.read("written", t.written);
  const Json* content = r.find("content");
  std::string missing = content == nullptr ? "content" : read_content(*content, t.content);
  return missing.empty() ? r.missing() : missing;
}

// When a waiver ends no clock says over a restart: it is kept to tell that it did.
std::string read_waivers(const Json* json, std::vector<Waiver>& waivers) {
  if (json == nullptr || !json->is_array())
    return "waivers";
  for (const Json& each : *json) {
    Reader r(each);
    Waiver& waiver = waivers.emplace_back();
    r.read_word("check", waiver.check, config::check_of);
    r.read("by", waiver.person);
    r.read("reason", waiver.reason);
    r.read("granted_ns", waiver.granted);
    r.read("length_ns", waiver.length);
    if (!r.missing().empty())
      return r.missing();
  }
  return "";
}

std::string read_batch(const Json& json, Batch& b) {
  Reader r(json);
  r.read("id", b.id);
  r.read("begun_ns", b.begun);
  r.read_word("phase", b.phase, config::phase_of);
  r.read("teaches", b.teaches);
  r.read("salt_factor", b.salt_factor.value);
  r.read("salt_factor_uncertainty", b.salt_factor.standard_uncertainty);
  r.read("rest_l", b.rest);
  r.read("rest_salinity_psu", b.rest_salinity);
  r.read("dry_salt_g", b.dry_salt);
  r.read("salt_noted", b.salt_noted);
  r.read("water_noted_l", b.water_noted);
  r.read("salt_seen", b.salt_seen);
  r.read("circulated_ns", b.circulated);
  r.read("standing_ns", b.standing);
  r.read("age_ns", b.age);
  r.read("drawn_l", b.drawn);
  r.read("lowest_volume_l", b.lowest_volume);
  r.read("evaporated_l", b.evaporated);
  r.read("unevaporated_l", b.unevaporated);
  r.read_word("proof_lost", b.voided, config::proof_void_of);
  r.read("permits", b.permits);
  std::string missing = r.missing();
  if (missing.empty())
    missing = read_portions(r.find("portions"), b);
  if (missing.empty())
    missing = read_waivers(r.find("waivers"), b.waivers);
  if (missing.empty())
    missing = read_by_symbol(r.find("hand_tests"), "hand_tests",
                             [&b](const Json& member, Analyte analyte) {
                               return read_hand_test(member, b.hand_tests[analyte]);
                             });
  if (const Json* proof = r.find("proof"); proof != nullptr && missing.empty())
    missing = read_proof(*proof, b.proof.emplace());
  if (const Json* profile = r.find("profile"); profile != nullptr && missing.empty())
    missing = read_profile(*profile, b.profile);
  else if (missing.empty())
    missing = "profile";
  if (const Json* relied = r.find("relied_on"); relied != nullptr && missing.empty())
    missing = read_relied_on(*relied, b.relied_on);
  else if (missing.empty())
    missing = "relied_on";
  return missing;
}

Json to_json(const ExchangeUnderWay& e) {
  return {{"most_drained_l", e.most_drained.value()},
          {"returned_l", e.returned.value()},
          {"tank_start_l", or_null(e.tank_start)}};
}

std::string read_exchange(const Json& json, ExchangeUnderWay& e) {
  Reader r(json);
  r.read("most_drained_l", e.most_drained);
  r.read("returned_l", e.returned);
  r.read("tank_start_l", e.tank_start);
  return r.missing();
}

Json to_json(const UnfinishedExchange& u) {
  return {{"permit", u.permit},
          {"batch", u.batch},
          {"asked_l", u.asked.value()},
          {"drained_l", u.amounts.drained.value()},
          {"returned_l", u.amounts.returned.value()},
          {"tank_lacks_l", or_null(u.amounts.tank_lacks)},
          {"tank_start_l", or_null(u.tank_start)},
          {"known", u.known}};
}

std::string read_unfinished(const Json& json, UnfinishedExchange& u) {
  Reader r(json);
  r.read("permit", u.permit);
  r.read("batch", u.batch);
  r.read("asked_l", u.asked);
  r.read("drained_l", u.amounts.drained);
  r.read("returned_l", u.amounts.returned);
  r.read("tank_lacks_l", u.amounts.tank_lacks);
  r.read("tank_start_l", u.tank_start);
  r.read("known", u.known);
  return r.missing();
}

}  // namespace

Json to_json(const HandTest& t) {
  return {{"content", to_json(t.content)},
          {"salinity_psu", t.salinity.value()},
          {"at", iso_time(t.at)},
          {"at_ns", ns(t.at)},
          {"written", t.written}};
}

Json to_json(const Waiver& w) {
  return {{"check", word(w.check)},      {"by", w.person},
          {"reason", w.reason},          {"granted", iso_time(w.granted)},
          {"granted_ns", ns(w.granted)}, {"length_s", seconds(w.length)},
          {"length_ns", ns(w.length)}};
}

Json to_json(const Batch& b) {
  Json waivers = Json::array();
  for (const Waiver& waiver : b.waivers)
    waivers.push_back(to_json(waiver));
  Json portions = Json::array();
  for (const SaltPortion& portion : b.portions)
    portions.push_back(to_json(portion));
  Json tests = Json::object();
  for (const auto& [analyte, test] : b.hand_tests)
    tests[symbol(analyte)] = to_json(test);
  return {{"id", b.id},
          {"lot", b.lot},
          {"lots", to_json(b.lots.parts)},
          {"portions", portions},
          {"hand_tests", tests},
          {"waivers", waivers},
          {"phase", word(b.phase)},
          {"begun", iso_time(b.begun)},
          {"begun_ns", ns(b.begun)},
          {"dry_fraction", b.product.dry_fraction},
          {"dry_fraction_uncertainty", b.product.dry_fraction_uncertainty},
          {"dry_fraction_learned", b.product.learned},
          {"teaches", b.teaches},
          {"salt_factor", b.salt_factor.value},
          {"salt_factor_uncertainty", b.salt_factor.standard_uncertainty},
          {"rest_l", b.rest.value()},
          {"rest_salinity_psu", b.rest_salinity.value()},
          {"dry_salt_g", b.dry_salt.value()},
          {"salt_g", b.salt.value()},
          {"salt_noted", b.salt_noted},
          {"water_noted_l", b.water_noted.value()},
          {"salt_seen", b.salt_seen},
          {"circulated_ns", ns(b.circulated)},
          {"standing_ns", ns(b.standing)},
          {"age_ns", ns(b.age)},
          {"drawn_l", b.drawn.value()},
          {"lowest_volume_l", or_null(b.lowest_volume)},
          {"evaporated_l", b.evaporated.value()},
          {"unevaporated_l", or_null(b.unevaporated)},
          {"permits", b.permits},
          {"proof_lost", word(b.voided)},
          {"proof", b.proof ? to_json(*b.proof) : Json()},
          {"profile", to_json(b.profile)},
          {"relied_on", to_json(b.relied_on)}};
}

Json to_json(const StationMemory& m) {
  Json alarms = Json::object();
  for (const auto& [id, state] : m.alarms)
    alarms[std::string(word(id))] = word(state);
  Json change;
  if (m.change)
    change = {{"permit", m.change->permit},
              {"asked_l", m.change->asked.value()},
              {"start_volume_l", or_null(m.change->start_volume)},
              {"exchange", m.change->exchange ? to_json(*m.change->exchange) : Json()}};
  return {{"batch", to_json(m.batch)},
          {"change", change},
          {"unfinished", m.unfinished ? to_json(*m.unfinished) : Json()},
          {"alarms", alarms},
          {"saved_ns", ns(m.saved)}};
}

Json to_json(const Calibration& c) {
  return {{"slope", c.slope},        {"offset", c.offset},   {"standard", c.standard},
          {"shown", c.shown},        {"at", iso_time(c.at)}, {"at_ns", ns(c.at)},
          {"map_entry", c.map_entry}};
}

Json to_json(const VerifiedPoint& p) {
  return {{"shown", p.shown}, {"read", p.read}, {"at", iso_time(p.at)}, {"at_ns", ns(p.at)}};
}

Json to_json(const Verification& v) {
  Json points = Json::array();
  for (const VerifiedPoint& point : v.points)
    points.push_back(to_json(point));
  return {{"map_entry", v.map_entry}, {"points", points}};
}

Json to_json(const LotYield& lot) {
  return {{"prior", lot.prior},
          {"prior_uncertainty", lot.prior_uncertainty},
          {"batches", lot.batches},
          {"mean", lot.mean},
          {"shared_uncertainty", lot.shared_uncertainty},
          {"squares", lot.squares},
          {"weights", lot.weights},
          {"weights_squared", lot.weights_squared},
          {"own", lot.own},
          {"own_weighted", lot.own_weighted}};
}

Json to_json(const HealthPoint& p) {
  return {{"at", iso_time(p.at)},
          {"at_ns", ns(p.at)},
          {"witness", word(p.witness)},
          {"batch", p.batch},
          {"deviation", p.deviation},
          {"standard_uncertainty", p.standard_uncertainty},
          {"common_uncertainty", p.common_uncertainty}};
}

Json to_json(const ProbeRecord& record) {
  Json points = Json::array();
  for (const HealthPoint& point : record.points)
    points.push_back(to_json(point));
  return {{"known_since", iso_time(record.known_since)},
          {"known_since_ns", ns(record.known_since)},
          {"points", points}};
}

Result<Batch> batch_from(std::string_view text) {
  const auto json = parse_own(text);
  if (!json)
    return json.error();
  Batch batch;
  if (const std::string missing = read_batch(*json, batch); !missing.empty())
    return lacks(missing);
  return batch;
}

Result<StationMemory> station_memory_from(std::string_view text) {
  const auto json = parse_own(text);
  if (!json)
    return json.error();
  StationMemory memory;
  Reader r(*json);
  r.read("saved_ns", memory.saved);
  const Json* batch = r.find("batch");
  std::string missing = batch == nullptr ? "batch" : read_batch(*batch, memory.batch);
  if (const Json* change = r.find("change")) {
    ChangeUnderWay under_way;
    Reader c(*change);
    c.read("permit", under_way.permit);
    c.read("asked_l", under_way.asked);
    c.read("start_volume_l", under_way.start_volume);
    missing = missing.empty() ? c.missing() : missing;
    if (const Json* exchange = c.find("exchange"); exchange != nullptr && missing.empty())
      missing = read_exchange(*exchange, under_way.exchange.emplace());
    memory.change = under_way;
  }
  if (const Json* unfinished = r.find("unfinished"); unfinished != nullptr && missing.empty())
    missing = read_unfinished(*unfinished, memory.unfinished.emplace());
  if (const Json* alarms = r.find("alarms"); alarms != nullptr && alarms->is_object())
    for (const auto& [key, value] : alarms->items()) {
      const auto id = config::alarm_of(key);
      const auto state = value.is_string()
                             ? config::alarm_state_of(value.get_ref<const std::string&>())
                             : std::nullopt;
      if (id && state)
        memory.alarms.emplace_back(*id, *state);
      else
        missing = key;
    }
  missing = missing.empty() ? r.missing() : missing;
  if (!missing.empty())
    return lacks(missing);
  return memory;
}

Result<Calibration> calibration_from(std::string_view text) {
  const auto json = parse_own(text);
  if (!json)
    return json.error();
  Calibration c;
  Reader r(*json);
  r.read("slope", c.slope);
  r.read("offset", c.offset);
  r.read("standard", c.standard);
  r.read("shown", c.shown);
  r.read("at_ns", c.at);
  r.read("map_entry", c.map_entry);
  if (!r.missing().empty())
    return lacks(r.missing());
  return c;
}

Result<LotYield> lot_yield_from(std::string_view text) {
  const auto json = parse_own(text);
  if (!json)
    return json.error();
  LotYield lot;
  Reader r(*json);
  r.read("prior", lot.prior);
  r.read("prior_uncertainty", lot.prior_uncertainty);
  r.read("batches", lot.batches);
  r.read("mean", lot.mean);
  r.read("shared_uncertainty", lot.shared_uncertainty);
  r.read("squares", lot.squares);
  r.read("weights", lot.weights);
  r.read("weights_squared", lot.weights_squared);
  r.read("own", lot.own);
  r.read("own_weighted", lot.own_weighted);
  if (!r.missing().empty())
    return lacks(r.missing());
  return lot;
}

Result<ProbeRecord> probe_record_from(std::string_view text) {
  const auto json = parse_own(text);
  if (!json)
    return json.error();
  ProbeRecord record;
  Reader r(*json);
  r.read("known_since_ns", record.known_since);
  const Json* points = r.find("points");
  if (points == nullptr || !points->is_array())
    return lacks("points");
  for (const Json& each : *points) {
    HealthPoint point;
    Reader p(each);
    p.read("at_ns", point.at);
    p.read_word("witness", point.witness, config::health_witness_of);
    p.read("batch", point.batch);
    p.read("deviation", point.deviation);
    p.read("standard_uncertainty", point.standard_uncertainty);
    p.read("common_uncertainty", point.common_uncertainty);
    if (!p.missing().empty())
      return lacks(p.missing());
    record.points.push_back(std::move(point));
  }
  if (!r.missing().empty())
    return lacks(r.missing());
  return record;
}

Result<Verification> verification_from(std::string_view text) {
  const auto json = parse_own(text);
  if (!json)
    return json.error();
  Verification verification;
  Reader r(*json);
  r.read("map_entry", verification.map_entry);
  const Json* points = r.find("points");
  if (points == nullptr || !points->is_array())
    return lacks("points");
  for (const Json& each : *points) {
    Reader p(each);
    VerifiedPoint& point = verification.points.emplace_back();
    p.read("shown", point.shown);
    p.read("read", point.read);
    p.read("at_ns", point.at);
    if (!p.missing().empty())
      return lacks(p.missing());
  }
  if (!r.missing().empty())
    return lacks(r.missing());
  return verification;
}

std::string dump(const Json& json) {
  return json.dump(-1, ' ', false, Json::error_handler_t::replace);
}

// Civil date from days since 1970 (proleptic Gregorian calendar), without touching a clock or the
// process's time zone.
std::string iso_time(WallTime at) {
  const auto day = std::chrono::floor<std::chrono::days>(at.time_since_epoch());
  const std::chrono::year_month_day date{std::chrono::sys_days(day)};
  const std::chrono::hh_mm_ss time(
      std::chrono::floor<std::chrono::seconds>(at.time_since_epoch() - day));
  return fmt::format("{:04}-{:02}-{:02}T{:02}:{:02}:{:02}Z", static_cast<int>(date.year()),
                     static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day()),
                     time.hours().count(), time.minutes().count(), time.seconds().count());
}

}  // namespace brinegate::daemon
