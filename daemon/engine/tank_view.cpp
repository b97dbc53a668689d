// SPDX-License-Identifier: Apache-2.0
#include "daemon/engine/tank_view.h"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <map>
#include <string>
#include <utility>

#include <nlohmann/json.hpp>

#include "config/chemistry/chemistry_advice.h"
#include "daemon/engine/lot_view.h"
#include "daemon/engine/view.h"
#include "rules/chemistry/ranking.h"
#include "rules/seawater.h"

namespace brinegate::daemon {
namespace {

using config::WaterOfSample;

// The daemon answers between two looks at its pump: what it says stays small.
constexpr int longest_course = 60;
constexpr std::size_t most_lots_opened = 50;

// In the row's unit a day, or the share a day.
Json consumption_view(const Consumption& c, Analyte analyte, const WaterOfSample& water) {
  const bool share = c.kinetics == Kinetics::Proportional;
  const auto number = [&](double value) {
    return share ? Json(value) : number_view(value, analyte, water);
  };
  return {{"kinetics", config::word(c.kinetics)},
          {"per_day", number(c.per_day)},
          {"standard_uncertainty", number(c.standard_uncertainty)},
          {"shown", config::show_consumption(c, analyte, water)}};
}

// As the prediction takes it, and where it comes from.
Json consumption_view(const Tank& tank, Analyte analyte) {
  Json view = consumption_view(consumption_of(tank, analyte), analyte, config::water_of(tank));
  const auto estimated = estimated_consumption(tank, analyte);
  const bool set = tank.consumption.contains(analyte);
  view["from"] = set ? "set" : estimated ? "estimated" : "none";
  view["tests"] = estimated && !set ? Json(estimated->tests) : Json();
  return view;
}

Json symbols(const std::vector<Analyte>& analytes) {
  Json list = Json::array();
  for (const Analyte analyte : analytes)
    list.push_back(analyte_row(analyte).symbol);
  return list;
}

Json natural_view(const AnalyteRow& row, const Tank& tank) {
  if (!row.natural)
    return {};
  return number_view(*row.natural * (tank.salinity / composition_salinity), row.analyte,
                     config::water_of(tank));
}

// With the interval of 95 % of what has not come yet.
Json foretold_view(const CensoredValue& content, Analyte analyte, const WaterOfSample& water) {
  Json view = content_view(content, analyte, water);
  view["at_least"] = number_view(content.at_least(), analyte, water);
  view["at_most"] = number_view(content.at_most(), analyte, water);
  return view;
}

Json interval_text(const CensoredValue& content, Analyte analyte, const WaterOfSample& water) {
  return config::show_content({content.at_least(), content.at_most(), content.standard_uncertainty},
                              analyte, water);
}

// Numbers alone: there are many of them.
Json point_view(const CensoredValue& content, Analyte analyte, const WaterOfSample& water) {
  return {{"low", number_view(content.low, analyte, water)},
          {"high", number_view(content.high, analyte, water)},
          {"at_least", number_view(content.at_least(), analyte, water)},
          {"at_most", number_view(content.at_most(), analyte, water)}};
}

// Every change of a short plan, as many evenly spaced ones of a long one; always the last.
Json course_view(const TankContent& start, const CensoredValue& new_water, const ChangePlan& plan,
                 Analyte analyte, const WaterOfSample& water) {
  Json points = Json::array();
  const int shown = std::min(plan.changes, longest_course);
  for (int i = 1; i <= shown; ++i) {
    ChangePlan until = plan;
    until.changes = static_cast<int>(std::int64_t{plan.changes} * i / shown);
    const auto point = after_changes(start.content, new_water, start.consumption, until);
    points.push_back({{"change", until.changes},
                      {"before", point_view(point.before, analyte, water)},
                      {"after", point_view(point.after, analyte, water)}});
  }
  return points;
}

Json foretold_row(const AnalyteRow& each, const Tank& tank, const TankContent& start,
                  const CensoredValue& new_water, const ChangePlan& plan) {
  const Analyte analyte = each.analyte;
  const WaterOfSample water = config::water_of(tank);
  const auto end = after_changes(start.content, new_water, start.consumption, plan);
  const auto tends_to = steady_state(new_water, start.consumption, plan);
  const auto wanted = wanted_of(tank, analyte);
  Json row = analyte_view(analyte);
  row["wanted"] = wanted_view(wanted, analyte, water);
  row["natural"] = natural_view(each, tank);
  row["tank"] = content_view(start.content, analyte, water);
  row["new_water"] = content_view(new_water, analyte, {plan.salinity, tank.temperature, false});
  row["after"] = foretold_view(end.after, analyte, water);
  row["tends_to"] = foretold_view(tends_to.after, analyte, water);
  row["consumption"] = consumption_view(start.consumption, analyte, water);
  row["course"] = course_view(start, new_water, plan, analyte, water);
  if (!wanted)
    return row;
  const InRange until = changes_until(wanted->range.low, wanted->range.high, start.content,
                                      new_water, start.consumption, plan);
  row["changes_until"] = until.changes ? Json(*until.changes) : Json();
  row["surely_until"] = until.surely ? Json(*until.surely) : Json();
  row["sentence"] = config::sentence(until, tends_to.after, analyte, tank, plan);
  return row;
}

Json steps_view(const Tank& tank, const ChangePlan& plan) {
  Json steps = Json::array();
  const TankStep step = step_of_change(tank.salinity, tank.temperature, plan);
  for (const config::StepSentence& each : config::sentences(step, tank, plan))
    steps.push_back(
        {{"sentence", each.text}, {"moves", each.moves}, {"too_large", each.too_large}});
  return steps;
}

Json ranked_analytes(const Tank& tank, const Lot& lot, const Ranking& ranking,
                     const ChangePlan& plan, WallTime now) {
  const WaterOfSample water = config::water_of(tank);
  Json rows = Json::array();
  for (const RankedAnalyte& each : opened(tank, lot, ranking.decided_by, plan, now)) {
    Json row = analyte_view(each.analyte);
    row["wanted"] = wanted_view(each.wanted, each.analyte, water);
    row["tank"] = content_view(each.tank, each.analyte, water);
    row["new_water"] =
        content_view(each.new_water, each.analyte, {plan.salinity, tank.temperature, false});
    row["after"] = content_view(each.after, each.analyte, water);
    row["distance"] = rounded(each.distance, 4);
    row["share_of_score"] = rounded(each.share_of_score, 4);
    rows.push_back(row);
  }
  return rows;
}

Json costs_view(const Tank& tank, const Lot& lot, const Lot& best, const Ranking& ranking,
                const ChangePlan& plan, WallTime now) {
  const WaterOfSample new_water{plan.salinity, tank.temperature, false};
  Json costs = Json::array();
  for (const Deciding& each : what_decides(tank, lot, best, ranking.decided_by, plan, now))
    costs.push_back({{"analyte", analyte_row(each.analyte).symbol},
                     {"unit", config::shown_unit(each.analyte)},
                     {"cost", rounded(each.cost, 4)},
                     {"new_water", number_view(each.new_water, each.analyte, new_water)},
                     {"would_need", number_view(each.would_need, each.analyte, new_water)},
                     {"sentence", config::sentence(each, tank, plan)}});
  return costs;
}

Json ranked_view(const RankedLot& ranked, const Lot& lot, const Tank& tank) {
  Json vetoes = Json::array();
  for (const Veto& veto : ranked.vetoes)
    vetoes.push_back({{"reason", config::word(veto.reason)},
                      {"analyte", veto.analyte ? Json(analyte_row(*veto.analyte).symbol) : Json()},
                      {"sentence", config::sentence(veto, lot, tank)}});
  return {{"lot", lot.name},
          {"version", lot.version > 0 ? Json(lot.version) : Json()},
          {"salt", lot.salt},
          {"place", ranked.place},
          {"score", rounded(ranked.score, 4)},
          {"standard_uncertainty", rounded(ranked.standard_uncertainty, 4)},
          {"ties_with_first", ranked.ties_with_first},
          {"vetoes", vetoes}};
}

}  // namespace

Json tank_summary(const Tank& tank) {
  return {
      {"tank", tank.name},
      {"volume_l", tank.volume.value()},
      {"at", salinity_view(tank.salinity)},
      {"temperature_c", tank.temperature.value()},
      {"tests", tank.tests.size()},
      {"latest_test", tank.tests.empty() ? Json() : Json(iso_time(tank.tests.back().at))},
      {"changes", tank.changes.size()},
      {"latest_change", tank.changes.empty() ? Json() : Json(iso_time(tank.changes.back().at))}};
}

Json tank_view(const Tank& tank, WallTime now) {
  const WaterOfSample water = config::water_of(tank);
  Json rows = Json::array();
  for (const AnalyteRow& each : analytes()) {
    const Analyte analyte = each.analyte;
    const auto wanted = wanted_of(tank, analyte);
    const auto latest = latest_content(tank, analyte);
    if (!wanted && !latest)
      continue;
    const auto content = content_now(tank, analyte, now);
    Json row = analyte_view(analyte);
    row["wanted"] = wanted_view(wanted, analyte, water);
    row["natural"] = natural_view(each, tank);
    row["latest"] = latest ? content_view(latest->content, analyte, water) : Json();
    row["tested"] = latest ? Json(iso_time(latest->at)) : Json();
    row["consumption"] = consumption_view(tank, analyte);
    row["now"] = content ? content_view(content->content, analyte, water) : Json();
    rows.push_back(row);
  }
  Json view = tank_summary(tank);
  view["analytes"] = rows;
  return view;
}

Json plan_view(const ChangePlan& plan) {
  Json view = {{"mode", config::word(plan.mode)},
               {"fraction", rounded(plan.fraction, 6)},
               {"interval_s", seconds(plan.interval)},
               {"changes", plan.changes}};
  view.update(salinity_view(plan.salinity));
  view["temperature_c"] = plan.temperature.value();
  view["shown"] = config::show(plan);
  return view;
}

Json forecast_view(const Tank& tank, const Lot& lot, const ChangePlan& plan, WallTime now) {
  const Composition composition = composition_of(lot.assay);
  std::vector<Analyte> not_tested;
  std::vector<Analyte> not_in_lot;
  Json rows = Json::array();
  for (const AnalyteRow& each : analytes()) {
    const auto start = content_now(tank, each.analyte, now);
    const auto new_water = content_at(plan.salinity, composition, each.analyte);
    if (start && new_water)
      rows.push_back(foretold_row(each, tank, *start, *new_water, plan));
    else if (start)
      not_in_lot.push_back(each.analyte);
    else if (new_water)
      not_tested.push_back(each.analyte);
  }
  return {{"tank", tank.name},
          {"lot", lot_summary(lot)},
          {"plan", plan_view(plan)},
          {"at", iso_time(now)},
          {"steps", steps_view(tank, plan)},
          {"analytes", rows},
          {"not_tested", symbols(not_tested)},
          {"not_in_lot", symbols(not_in_lot)}};
}

Json effect_view(const Tank& tank, const Composition& composition, const ChangePlan& plan,
                 WallTime at) {
  const WaterOfSample water = config::water_of(tank);
  std::multimap<double, Json> rows;  // by how far it stays where it is
  for (const AnalyteRow& each : analytes()) {
    const Analyte analyte = each.analyte;
    const auto start = content_now(tank, analyte, at);
    const auto new_water = content_at(plan.salinity, composition, analyte);
    const auto wanted = wanted_of(tank, analyte);
    if (!start || !new_water || !wanted || !(scale_of(wanted->range) > 0.0))
      continue;
    const CensoredValue after =
        after_changes(start->content, *new_water, start->consumption, plan).after;
    const double moved = (after.middle() - start->content.middle()) / scale_of(wanted->range);
    Json row = analyte_view(analyte);
    row["wanted"] = wanted_view(wanted, analyte, water);
    row["tank"] = foretold_view(start->content, analyte, water);
    row["after"] = foretold_view(after, analyte, water);
    row["after"]["interval"] = interval_text(after, analyte, water);
    row["moved"] = rounded(moved, 3);
    rows.emplace(-std::abs(moved), std::move(row));
  }
  Json view = {{"tank", tank.name}, {"plan", plan_view(plan)}, {"at", iso_time(at)}};
  view["analytes"] = Json::array();
  for (auto& [stays, row] : rows)
    view["analytes"].push_back(std::move(row));
  return view;
}

Json rank_view(const Tank& tank, std::span<const Lot> lots, const ChangePlan& plan, WallTime now) {
  const Ranking ranking = rank_lots(tank, lots, plan, now);
  Json ranked = Json::array();
  for (const RankedLot& each : ranking.lots) {
    const Lot& lot = lots[each.lot];
    Json view = ranked_view(each, lot, tank);
    if (ranked.size() < most_lots_opened) {
      view["costs"] = costs_view(tank, lot, lots[ranking.lots.front().lot], ranking, plan, now);
      view["analytes"] = ranked_analytes(tank, lot, ranking, plan, now);
    }
    ranked.push_back(std::move(view));
  }
  return {{"tank", tank.name},
          {"plan", plan_view(plan)},
          {"at", iso_time(now)},
          {"headline", config::headline(ranking, lots, tank, plan)},
          {"steps", steps_view(tank, plan)},
          {"lots", ranked},
          {"decided_by", symbols(ranking.decided_by)},
          {"not_in_every_lot", symbols(ranking.not_in_every_lot)},
          {"not_tested", symbols(ranking.not_tested)}};
}

Json outcome_view(const Tank& tank) {
  const WaterOfSample water = config::water_of(tank);
  Json rows = Json::array();
  for (const Outcome& each : outcomes_of_latest_test(tank)) {
    Json row = analyte_view(each.analyte);
    row["wanted"] = wanted_view(wanted_of(tank, each.analyte), each.analyte, water);
    row["before"] = content_view(each.before, each.analyte, water);
    row["foretold"] = foretold_view(each.foretold, each.analyte, water);
    row["measured"] = content_view(each.measured, each.analyte, water);
    row["score"] = rounded(each.score, 3);
    row["agrees"] = config::agrees(each);
    row["consumption_before"] = consumption_view(each.consumption_before, each.analyte, water);
    row["consumption_after"] = each.consumption_after
                                   ? consumption_view(*each.consumption_after, each.analyte, water)
                                   : Json();
    row["sentence"] = config::sentence(each, tank);
    rows.push_back(row);
  }
  Json view = tank_summary(tank);
  view["outcomes"] = rows;
  return view;
}

}  // namespace brinegate::daemon
