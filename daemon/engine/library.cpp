// SPDX-License-Identifier: Apache-2.0
#include "daemon/engine/library.h"

#include <algorithm>
#include <utility>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "config/nearest.h"
#include "daemon/engine/chemistry_json.h"

namespace brinegate::daemon {
namespace {

constexpr const char* lot_table = "lot";
constexpr const char* tank_table = "tank";
constexpr const char* test_table = "water-test";
constexpr const char* change_table = "tank-change";

// What a version says, whoever entered it, whenever.
Lot said_by(Lot lot) {
  lot.version = 0;
  lot.entered_by.clear();
  lot.entered = {};
  return lot;
}

// Where an analysis was read from does not outlive the reading.
void forget_lines(Assay& assay) {
  for (auto& [analyte, value] : assay.values)
    value.line = 0;
}

template <class T>
void insert_by_time(std::vector<T>& all, T one) {
  const auto later = std::upper_bound(all.begin(), all.end(), one,
                                      [](const T& a, const T& b) { return a.at < b.at; });
  all.insert(later, std::move(one));
}

void add(const char* table, const std::string& key, const char* kind, const Json& body, WallTime at,
         Append& append) {
  append.states.push_back({table, key, "", dump(body)});
  append.entries.push_back({at, "", kind, dump(body)});
}

template <class Map>
Error unknown(const char* what, const std::string& name, const Map& all) {
  if (all.empty())
    return Error{fmt::format("there is no {0} '{1}': no {0} is on record yet", what, name)};
  std::vector<std::string> known;
  for (const auto& [key, value] : all)
    known.push_back(key);
  return Error{fmt::format("there is no {} '{}': {}", what, name, config::suggestion(name, known))};
}

template <class Map>
auto* find(Map& all, const std::string& name) {
  const auto found = all.find(name);
  return found == all.end() ? nullptr : &found->second;
}

}  // namespace

bool Library::keeps(std::string_view table) {
  return table == lot_table || table == tank_table || table == test_table || table == change_table;
}

Result<Done> Library::restore(const StoredState& state) {
  const auto about = [&state](const Error& error) {
    return Error{fmt::format("{} {}: {}", state.table, state.key, error.message)};
  };
  if (state.table == lot_table) {
    const auto lot = lot_from(state.body);
    if (!lot)
      return about(lot.error());
    lots_[lot->name][lot->version] = *lot;
  } else if (state.table == tank_table) {
    const auto read = tank_from(state.body);
    if (!read)
      return about(read.error());
    Tank& tank = tanks_[read->name];
    Tank before = std::exchange(tank, *read);
    tank.tests = std::move(before.tests);
    tank.changes = std::move(before.changes);
  } else if (state.table == test_table) {
    const auto test = water_test_from(state.body);
    if (!test)
      return about(test.error());
    insert_by_time(tanks_[test->tank].tests, test->test);
  } else if (state.table == change_table) {
    const auto change = tank_change_from(state.body);
    if (!change)
      return about(change.error());
    insert_by_time(tanks_[change->tank].changes, change->change);
  }
  return Done{};
}

Result<Lot> Library::add_lot(Lot lot, const EnteredBy& by, Append& append) {
  forget_lines(lot.assay);
  if (const Lot* latest = this->lot(lot.name)) {
    if (said_by(*latest) == said_by(lot))
      return Error{fmt::format("lot {} is on record already and says the same (version {})",
                               lot.name, latest->version)};
    lot.version = latest->version + 1;
  } else {
    lot.version = 1;
  }
  lot.entered_by = by.person;
  lot.entered = by.at;
  lots_[lot.name][lot.version] = lot;
  add(lot_table, fmt::format("{}/{}", lot.name, lot.version), "lot-added", to_json(lot), by.at,
      append);
  return lot;
}

Result<Tank> Library::put_tank(Tank tank, const EnteredBy& by, Append& append) {
  if (const Tank* before = this->tank(tank.name)) {
    tank.tests = before->tests;
    tank.changes = before->changes;
    if (*before == tank)
      return Error{fmt::format("tank {} is on record already and says the same", tank.name)};
  }
  tanks_[tank.name] = tank;
  Json body = to_json(tank);
  body["entered_by"] = by.person;
  add(tank_table, tank.name, "tank-set", body, by.at, append);
  return tank;
}

Result<Tank> Library::add_test(const std::string& name, WaterTest test, WallTime now,
                               Append& append) {
  Tank* tank = find(tanks_, name);
  if (tank == nullptr)
    return unknown_tank(name);
  for (const WaterTest& other : tank->tests)
    if (other.at == test.at)
      return Error{
          fmt::format("a water test of {} at {} is on record already", name, iso_time(test.at))};
  forget_lines(test.assay);
  add(test_table, fmt::format("{}/{}", name, test.at.time_since_epoch().count()), "water-test",
      to_json(name, test), now, append);
  insert_by_time(tank->tests, std::move(test));
  return *tank;
}

Result<Tank> Library::add_change(const std::string& name, TankChange change, WallTime now,
                                 Append& append) {
  Tank* tank = find(tanks_, name);
  if (tank == nullptr)
    return unknown_tank(name);
  for (const TankChange& other : tank->changes)
    if (other.at == change.at && other.batch == change.batch)
      return Error{fmt::format("a water change of {} at {} is on record already", name,
                               iso_time(change.at))};
  add(change_table,
      fmt::format("{}/{}/{}", name, change.at.time_since_epoch().count(), change.batch),
      "tank-change", to_json(name, change), now, append);
  insert_by_time(tank->changes, std::move(change));
  return *tank;
}

const Lot* Library::lot(const std::string& name, int version) const {
  const auto* versions = find(lots_, name);
  if (versions == nullptr)
    return nullptr;
  if (version == 0)
    return &versions->rbegin()->second;
  const auto found = versions->find(version);
  return found == versions->end() ? nullptr : &found->second;
}

const Tank* Library::tank(const std::string& name) const {
  return find(tanks_, name);
}

std::vector<Lot> Library::lots() const {
  std::vector<Lot> latest;
  for (const auto& [name, versions] : lots_)
    latest.push_back(versions.rbegin()->second);
  return latest;
}

std::vector<Tank> Library::tanks() const {
  std::vector<Tank> all;
  for (const auto& [name, tank] : tanks_)
    all.push_back(tank);
  return all;
}

Error Library::unknown_lot(const std::string& name) const {
  return unknown("lot", name, lots_);
}

Error Library::unknown_tank(const std::string& name) const {
  return unknown("tank", name, tanks_);
}

}  // namespace brinegate::daemon
