// SPDX-License-Identifier: Apache-2.0
#include "daemon/engine/library_request.h"

#include <utility>
#include <variant>
#include <vector>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "config/problem.h"

namespace brinegate::daemon {
namespace {

Json accepted(std::string message, Json about) {
  about["ok"] = true;
  about["message"] = std::move(message);
  about["reasons"] = Json::array();
  return about;
}

Json refused(const std::string& message, const std::vector<config::Problem>& problems = {}) {
  Json reasons = Json::array();
  for (const config::Problem& problem : problems)
    reasons.push_back(render(problem));
  return {{"ok", false}, {"message", fmt::format("Refused: {}.", message)}, {"reasons", reasons}};
}

// The name that problems begin with.
std::string file_of(const HandedIn& handed_in) {
  return handed_in.file.empty() ? "text" : handed_in.file;
}

struct Applier {
  Library& library;
  Append& append;
  WallTime now;
  Origin origin;

  // What the dose is weighed against.
  [[nodiscard]] bool moves_a_dry_fraction(const Lot& lot) const {
    const Lot* known = library.lot(lot.name);
    return lot.dry_fraction != (known != nullptr ? known->dry_fraction : std::nullopt);
  }

  Json operator()(const AddLot& asked) const {
    auto read = config::read_lot(asked.handed_in.text, file_of(asked.handed_in), asked.particulars);
    if (!read.lot)
      return refused("the analysis cannot be read as it is", read.errors);
    if (origin != Origin::Local && moves_a_dry_fraction(*read.lot))
      return refused(
          "a lot's dry fraction moves what a dose is checked against, so that it is stated and "
          "changed on the machine itself only, with the command line");
    const auto lot = library.add_lot(std::move(*read.lot), {asked.handed_in.by, now}, append);
    if (!lot)
      return refused(lot.error().message);
    return accepted(
        fmt::format("Done: lot {} is on record, version {}.", lot->name, lot->version),
        {{"lot", lot->name}, {"version", lot->version}, {"unread", unread_view(read.unread)}});
  }

  Json operator()(const AddTank& asked) const {
    auto read = config::read_tank(asked.handed_in.text, file_of(asked.handed_in));
    if (!read.tank)
      return refused("the tank's particulars cannot be read as they are", read.errors);
    const auto tank = library.put_tank(std::move(*read.tank), {asked.handed_in.by, now}, append);
    if (!tank)
      return refused(tank.error().message);
    return accepted(fmt::format("Done: tank {} is on record.", tank->name), {{"tank", tank->name}});
  }

  Json operator()(const AddWaterTest& asked) const {
    if (library.tank(asked.tank) == nullptr)
      return refused(library.unknown_tank(asked.tank).message);
    auto read =
        config::read_water_test(asked.handed_in.text, file_of(asked.handed_in), asked.particulars);
    if (!read.test)
      return refused("the water test cannot be read as it is", read.errors);
    WaterTest test = std::move(*read.test);
    if (!asked.handed_in.by.empty())
      test.by = asked.handed_in.by;
    if (test.at > now)
      return refused(fmt::format("a water test of {} lies in the future", iso_time(test.at)));
    const auto tank = library.add_test(asked.tank, test, now, append);
    if (!tank)
      return refused(tank.error().message);
    return accepted(fmt::format("Done: the water test of {} at {} is on record.", tank->name,
                                iso_time(test.at)),
                    {{"tank", tank->name}, {"unread", unread_view(read.unread)}});
  }

  Json operator()(const NoteTankChange& asked) const {
    const Tank* tank = library.tank(asked.tank);
    if (tank == nullptr)
      return refused(library.unknown_tank(asked.tank).message);
    TankChange change;
    change.at = asked.at.value_or(now);
    change.volume = asked.volume;
    change.salinity = asked.salinity.value_or(tank->salinity);
    change.batch = asked.lot;
    if (change.at > now)
      return refused(fmt::format("a water change of {} lies in the future", iso_time(change.at)));
    if (!(change.volume > Litres(0.0)) || change.volume > tank->volume)
      return refused("the volume must be more than nothing and at most the tank's");
    if (!asked.lot.empty()) {
      const Lot* lot = library.lot(asked.lot);
      if (lot == nullptr)
        return refused(library.unknown_lot(asked.lot).message);
      change.composition = composition_of(lot->assay);
    }
    const auto changed = library.add_change(asked.tank, std::move(change), now, append);
    if (!changed)
      return refused(changed.error().message);
    return accepted(fmt::format("Done: the water change of {} is on record.", changed->name),
                    {{"tank", changed->name}});
  }

  template <class Other>
  Json operator()(const Other&) const {
    return refused("this is not about a lot or a tank");
  }
};

}  // namespace

Json unread_view(const std::vector<config::UnreadLine>& lines) {
  Json view = Json::array();
  for (const config::UnreadLine& each : lines)
    view.push_back({{"line", each.line}, {"text", each.text}, {"why", each.why}});
  return view;
}

bool concerns_library(const Request& request) {
  return std::holds_alternative<AddLot>(request.act) ||
         std::holds_alternative<AddTank>(request.act) ||
         std::holds_alternative<AddWaterTest>(request.act) ||
         std::holds_alternative<NoteTankChange>(request.act);
}

Json apply_library_request(Library& library, const Request& request, Append& append, WallTime now,
                           Origin origin) {
  Json answer = {{"id", request.id}};
  answer.update(std::visit(Applier{library, append, now, origin}, request.act));
  return answer;
}

}  // namespace brinegate::daemon
