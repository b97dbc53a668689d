// SPDX-License-Identifier: Apache-2.0
#include "daemon/batch_effect.h"

#include <algorithm>
#include <cmath>
#include <string>
#include <utility>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "daemon/engine/tank_view.h"
#include "daemon/record_view.h"

namespace brinegate::daemon {
namespace {

Json unknown(std::string why) {
  return {{"sentence", std::move(why)}, {"analytes", Json::array()}};
}

std::optional<WallTime> first_drawn(const std::vector<RecordRow>& entries) {
  for (const RecordRow& row : entries)
    if (row.entry.kind == "change-ended" && body_of(row.entry.body).value("drawn_l", 0.0) > 0.0)
      return row.entry.at;
  return std::nullopt;
}

// Without what was tested and changed from then on.
Tank as_it_was(Tank tank, WallTime until) {
  std::erase_if(tank.tests, [until](const WaterTest& each) { return each.at >= until; });
  std::erase_if(tank.changes, [until](const TankChange& each) { return each.at >= until; });
  return tank;
}

Litres volume_of(const ExchangeAmount& change, const Tank& tank) {
  return change.volume.value_or(Litres(change.share.value_or(0.0) * tank.volume.value()));
}

Json effect_on(const Tank& tank, const Batch& batch, Litres volume, bool drawn, WallTime at) {
  ChangePlan plan;
  plan.fraction = std::min(1.0, volume / tank.volume);
  plan.interval = Duration::zero();
  plan.salinity = batch.proof ? batch.proof->salinity : batch.profile.target;
  Json effect = effect_view(tank, *batch.lots.composition, plan, at);
  const std::string what = fmt::format("{:.1f} L of it in the {:.0f} L of {}", volume.value(),
                                       tank.volume.value(), tank.name);
  if (effect.at("analytes").empty())
    effect["sentence"] = fmt::format(
        "No test of {} names anything that is wanted there and that the analysis of {} names too.",
        tank.name, batch.lot);
  else if (most_moved(effect).empty())
    effect["sentence"] = what + ": too little to move any element by what a test could show.";
  else
    effect["sentence"] =
        fmt::format("{}, by the tank's tests and the lots' analyses. What {} most:", what,
                    drawn ? "should have moved" : "would move");
  effect["volume_l"] = volume.value();
  effect["drawn"] = drawn;
  return effect;
}

}  // namespace

Json batch_effect(const EffectQuestion& question, const Library& library, WallTime now) {
  const auto batch = batch_from(question.batch.body);
  if (!batch)
    return unknown("What is stored of the batch cannot be read.");
  if (!question.station || question.station->tank.empty())
    return unknown(
        fmt::format("The configuration names no tank that {} draws into.", question.batch.station));
  const Tank* const tank = library.tank(question.station->tank);
  if (tank == nullptr)
    return unknown(fmt::format("Tank {} is not on record, so nothing can be foretold of it.",
                               question.station->tank));
  if (!batch->lots.composition)
    return unknown(
        fmt::format("Not all of its salt is of lots with an analysis on record, so "
                    "nothing can be foretold of {}.",
                    tank->name));
  const auto drawn_from = question.change ? std::nullopt : first_drawn(question.entries);
  if (drawn_from)
    return effect_on(as_it_was(*tank, *drawn_from), *batch, batch->drawn, true, *drawn_from);
  const auto& pump = question.station->spec.pump;
  const Litres volume = question.change ? volume_of(*question.change, *tank)
                        : pump          ? pump->max_volume
                                        : Litres(0.0);
  if (volume <= Litres(0.0))
    return unknown("Nothing was drawn of it, and no volume of a change is known.");
  return effect_on(*tank, *batch, volume, false, now);
}

std::vector<Json> most_moved(const Json& effect) {
  constexpr std::size_t most = 6;
  constexpr double least = 0.01;  // of half the wanted width
  std::vector<Json> rows;
  for (const Json& row : effect.value("analytes", Json::array())) {
    const bool reads_otherwise = row.at("tank").at("shown") != row.at("after").at("shown");
    if (rows.size() < most && reads_otherwise && std::abs(row.at("moved").get<double>()) >= least)
      rows.push_back(row);
  }
  return rows;
}

}  // namespace brinegate::daemon
