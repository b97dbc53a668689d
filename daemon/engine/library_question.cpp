// SPDX-License-Identifier: Apache-2.0
#include "daemon/engine/library_question.h"

#include <charconv>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "config/quantity.h"
#include "daemon/engine/lot_view.h"
#include "daemon/engine/tank_view.h"

namespace brinegate::daemon {
namespace {

struct Answerer {
  const Library& library;
  WallTime now;

  Result<Json> operator()(const AskLots&) const {
    Json all = Json::array();
    for (const Lot& lot : library.lots())
      all.push_back(lot_summary(lot));
    return Json{{"lots", all}};
  }

  Result<Json> operator()(const AskTanks&) const {
    Json all = Json::array();
    for (const Tank& tank : library.tanks())
      all.push_back(tank_summary(tank));
    return Json{{"tanks", all}};
  }

  Result<Json> operator()(const AskLot& asked) const {
    const auto lot = lot_named(library, asked.lot);
    if (!lot)
      return lot.error();
    return lot_view(*lot, asked.salinity.value_or(lot->assay.salinity));
  }

  Result<Json> operator()(const AskComparison& asked) const {
    const auto lots = lots_named(asked.lots);
    if (!lots)
      return lots.error();
    const Tank* const tank = library.tank(asked.tank);
    if (tank == nullptr && !asked.tank.empty())
      return library.unknown_tank(asked.tank);
    return compare_view(
        *lots, tank,
        asked.salinity.value_or(tank != nullptr ? tank->salinity : composition_salinity), now);
  }

  Result<Json> operator()(const AskTank& asked) const {
    const auto tank = tank_named(library, asked.tank);
    if (!tank)
      return tank.error();
    return tank_view(*tank, now);
  }

  Result<Json> operator()(const AskReview& asked) const {
    const auto tank = tank_named(library, asked.tank);
    if (!tank)
      return tank.error();
    return outcome_view(*tank);
  }

  Result<Json> operator()(const AskForecast& asked) const {
    const auto tank = tank_named(library, asked.tank);
    if (!tank)
      return tank.error();
    const auto lot = lot_named(library, asked.lot);
    if (!lot)
      return lot.error();
    const auto plan = plan_of(asked.plan, *tank);
    if (!plan)
      return plan.error();
    return forecast_view(*tank, *lot, *plan, now);
  }

  Result<Json> operator()(const AskRanking& asked) const {
    const auto tank = tank_named(library, asked.tank);
    if (!tank)
      return tank.error();
    const auto plan = plan_of(asked.plan, *tank);
    if (!plan)
      return plan.error();
    const auto lots = asked.lots.empty() ? library.lots() : lots_named(asked.lots);
    if (!lots)
      return lots.error();
    return rank_view(*tank, *lots, *plan, now);
  }

  template <class Other>
  Result<Json> operator()(const Other&) const {
    return Error{"this does not ask for a lot or a tank"};
  }

  [[nodiscard]] Result<std::vector<Lot>> lots_named(const std::vector<std::string>& names) const {
    std::vector<Lot> lots;
    for (const std::string& name : names) {
      auto lot = lot_named(library, name);
      if (!lot)
        return lot.error();
      lots.push_back(std::move(lot).value());
    }
    return lots;
  }
};

}  // namespace

Result<Lot> lot_named(const Library& library, std::string_view written) {
  if (const Lot* lot = library.lot(std::string(written)))
    return *lot;
  const std::size_t slash = written.rfind('/');
  int version = 0;
  if (slash != std::string_view::npos) {
    const std::string_view digits = written.substr(slash + 1);
    const auto [end, failure] =
        std::from_chars(digits.data(), digits.data() + digits.size(), version);
    if (failure != std::errc() || end != digits.data() + digits.size() || version < 1)
      version = 0;
  }
  const std::string name(version > 0 ? written.substr(0, slash) : written);
  if (const Lot* lot = library.lot(name, version))
    return *lot;
  if (const Lot* latest = library.lot(name))
    return Error{
        fmt::format("lot {} has no version {}: its latest is {}", name, version, latest->version)};
  return library.unknown_lot(name);
}

Result<Tank> tank_named(const Library& library, std::string_view name) {
  if (const Tank* tank = library.tank(std::string(name)))
    return *tank;
  return library.unknown_tank(std::string(name));
}

Result<ChangePlan> plan_of(const AskedPlan& asked, const Tank& tank) {
  ChangePlan plan;
  plan.mode = asked.continuous ? ExchangeMode::Continuous : ExchangeMode::Discrete;
  plan.fraction =
      asked.change.volume ? *asked.change.volume / tank.volume : asked.change.share.value_or(0.0);
  plan.interval = asked.every.value_or(plan.interval);
  plan.changes = asked.times;
  plan.salinity = asked.salinity.value_or(tank.salinity);
  plan.temperature = asked.temperature.value_or(tank.temperature);
  if (!(plan.fraction > 0.0))
    return Error{"a change of nothing changes nothing: write \"20 %\" of the tank, or \"80 L\""};
  if (!asked.continuous && plan.fraction > 1.0)
    return Error{fmt::format("a change of {} is more than the {} of {}",
                             config::show(*asked.change.volume), config::show(tank.volume),
                             tank.name)};
  if (plan.interval <= Duration::zero())
    return Error{"the time between changes must be more than nothing, such as \"7 d\""};
  if (plan.changes < 0 || plan.changes > most_changes)
    return Error{fmt::format("changes can be foretold up to {} times", most_changes)};
  return plan;
}

bool asks_library(const Request& request) {
  return std::visit(
      [](const auto& act) {
        using Act = std::decay_t<decltype(act)>;
        return std::is_same_v<Act, AskLots> || std::is_same_v<Act, AskLot> ||
               std::is_same_v<Act, AskComparison> || std::is_same_v<Act, AskTanks> ||
               std::is_same_v<Act, AskTank> || std::is_same_v<Act, AskReview> ||
               std::is_same_v<Act, AskForecast> || std::is_same_v<Act, AskRanking>;
      },
      request.act);
}

Json answer_question(const Library& library, const Request& request, WallTime now) {
  const auto found = std::visit(Answerer{library, now}, request.act);
  Json answer = {{"id", request.id}, {"ok", found.ok()}};
  if (found) {
    answer.update(*found);
    return answer;
  }
  answer["message"] = fmt::format("Refused: {}.", found.error().message);
  answer["reasons"] = Json::array();
  return answer;
}

}  // namespace brinegate::daemon
