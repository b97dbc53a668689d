// SPDX-License-Identifier: Apache-2.0
#include "daemon/engine/engine.h"

#include <algorithm>
#include <map>
#include <utility>
#include <variant>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "config/nearest.h"
#include "config/words.h"
#include "daemon/engine/request_command.h"
#include "daemon/engine/state_json.h"
#include "daemon/engine/station_unit.h"
#include "daemon/engine/view.h"

namespace brinegate::daemon {
namespace {

using namespace std::chrono_literals;

constexpr Duration history_every = 5s;
constexpr Duration retry_record_after = 1s;
constexpr Duration record_deadline = 3s;  // a disk that has not answered for so long has failed
constexpr std::size_t answers_kept = 256;
constexpr std::size_t unwritten_kept = 10000;

}  // namespace

struct Engine::Parts {
  explicit Parts(const config::Site& configured) : site(configured) {
    for (std::size_t i = 0; i < site.stations.size(); ++i)
      units.emplace_back(site.stations[i], i);
  }

  void take(const Event& event, Instant now, std::vector<Effect>& effects);
  void take_request(const RequestArrived& request, Instant now, std::vector<Effect>& effects);
  void take_record_answer(const AppendFinished& finished);
  void answer(const RequestArrived& request, const std::string& id, bool ok, std::string message,
              std::vector<Effect>& effects) const;
  StationUnit* unit(const std::string& name);
  bool record_kept(Instant now) const;
  void write_record(Append append, Instant now, std::vector<Effect>& effects);
  void write_history(Instant now, std::vector<Effect>& effects);

  const config::Site site;
  std::vector<StationUnit> units;

  // The record: what is on its way to the disk, and which permits wait for it.
  struct OnItsWay {
    Append append;  // empty for readings, whose loss is told by the next ones
    MonoTime since;
    std::vector<std::pair<std::size_t, std::string>> permits;
  };
  std::map<std::uint64_t, OnItsWay> on_its_way;
  Append unwritten;  // what the disk refused, to be tried again
  std::uint64_t next_ticket = 1;
  bool last_write_ok = false;  // shut until the disk has answered once
  std::optional<MonoTime> retried;
  std::optional<MonoTime> history_written;

  std::map<std::string, std::string> answers;  // station/id -> what was answered
  std::vector<std::string> answers_in_order;
  bool first_turn = true;
  bool ending = false;
  bool publish_everything = false;
};

Engine::Engine(std::unique_ptr<Parts> parts) : parts_(std::move(parts)) {}
Engine::~Engine() = default;

Result<std::unique_ptr<Engine>> Engine::create(const config::Site& site,
                                               const RestoredStates& restored, Instant now) {
  auto parts = std::make_unique<Parts>(site);
  for (const StoredState& state : restored) {
    StationUnit* unit = parts->unit(state.station);
    if (unit == nullptr)
      continue;  // a station that is no longer configured
    if (state.table == "station") {
      const auto memory = station_memory_from(state.body);
      if (!memory)
        return Error{fmt::format("station {}: {}", state.station, memory.error().message)};
      unit->restore(*memory, now);
    } else if (state.table == "calibration") {
      const auto calibration = calibration_from(state.body);
      if (!calibration)
        return Error{fmt::format("calibration {}: {}", state.key, calibration.error().message)};
      unit->restore_calibration(state.key.substr(state.key.find('/') + 1), *calibration);
    } else if (state.table == "request") {
      parts->answers.emplace(state.key, state.body);
      parts->answers_in_order.push_back(state.key);
    }
  }
  return std::unique_ptr<Engine>(new Engine(std::move(parts)));
}

std::vector<Effect> Engine::turn(std::span<const Event> events, Instant now) {
  Parts& p = *parts_;
  std::vector<Effect> effects;
  for (const Event& event : events)
    p.take(event, now, effects);

  const bool record_kept = p.record_kept(now);
  Append append;
  std::vector<std::pair<std::size_t, std::string>> permits;
  if (std::exchange(p.first_turn, false))
    append.entries.push_back({now.wall, "", "started", "{}"});
  for (std::size_t i = 0; i < p.units.size(); ++i) {
    if (const auto permit = p.units[i].step(record_kept, p.ending, now, effects, append))
      permits.emplace_back(i, *permit);
    p.units[i].publish(now, p.publish_everything, effects);
  }
  p.publish_everything = false;
  const std::uint64_t ticket = p.next_ticket;
  p.write_record(std::move(append), now, effects);
  if (!permits.empty())
    p.on_its_way[ticket].permits = std::move(permits);
  p.write_history(now, effects);
  return effects;
}

void Engine::Parts::take(const Event& event, Instant now, std::vector<Effect>& effects) {
  if (const auto* sample = std::get_if<SampleArrived>(&event)) {
    units[sample->probe.station].take(*sample);
  } else if (const auto* output = std::get_if<OutputReported>(&event)) {
    units[output->report.output.station].take(output->report, effects);
  } else if (const auto* request = std::get_if<RequestArrived>(&event)) {
    take_request(*request, now, effects);
  } else if (const auto* finished = std::get_if<AppendFinished>(&event)) {
    take_record_answer(*finished);
  } else if (const auto* broker = std::get_if<BrokerChanged>(&event)) {
    publish_everything |= broker->connected;
  } else if (std::holds_alternative<StopAsked>(event)) {
    ending = true;
  }
}

StationUnit* Engine::Parts::unit(const std::string& name) {
  const auto found = std::find_if(units.begin(), units.end(), [&name](const StationUnit& unit) {
    return unit.station().spec().name == name;
  });
  return found == units.end() ? nullptr : &*found;
}

void Engine::Parts::answer(const RequestArrived& request, const std::string& id, bool ok,
                           std::string message, std::vector<Effect>& effects) const {
  const Json reply = {{"id", id}, {"ok", ok}, {"message", message}, {"reasons", Json::array()}};
  effects.push_back(Reply{request.from, request.station, dump(reply)});
}

void Engine::Parts::take_request(const RequestArrived& arrived, Instant now,
                                 std::vector<Effect>& effects) {
  const bool from_network = arrived.origin == Origin::Network;
  if (arrived.retained)
    return answer(arrived, "", false, "Refused: a retained request is never honoured.", effects);
  auto request = parse_request(arrived.payload);
  if (!request)
    return answer(arrived, "", false, "Refused: " + request.error().message + ".", effects);
  const std::string station = from_network ? arrived.station : request->station;
  if (from_network && request->id.empty())
    return answer(arrived, "", false, "Refused: 'id' is missing; a repeated id acts once.",
                  effects);

  if (std::holds_alternative<AskStatus>(request->act)) {
    Json stations = Json::array();
    for (const StationUnit& each : units)
      if (station.empty() || each.station().spec().name == station)
        stations.push_back(station_view(each.station(), now));
    if (stations.empty() && !station.empty())
      return answer(arrived, request->id, false, unknown_station(station, site), effects);
    const Json reply = {
        {"id", request->id}, {"ok", true}, {"site", site.name}, {"stations", stations}};
    effects.push_back(Reply{arrived.from, arrived.station, dump(reply)});
    return;
  }
  StationUnit* const asked = unit(station);
  if (asked == nullptr)
    return answer(arrived, request->id, false, unknown_station(station, site), effects);
  const std::string key = fmt::format("{}/{}", station, request->id);
  if (const auto known = answers.find(key); known != answers.end() && !request->id.empty()) {
    if (!known->second.empty())  // else it is being answered in this very turn
      effects.push_back(Reply{arrived.from, station, known->second});
    return;
  }
  const BatchIds ids{now.wall, asked->station().batch().id};
  auto command = command_of(*request, arrived.origin, site, *asked, ids);
  if (!command)
    return answer(arrived, request->id, false, "Refused: " + command.error().message + ".",
                  effects);
  if (!request->id.empty()) {
    answers.emplace(key, "");
    answers_in_order.push_back(key);
    if (answers_in_order.size() > answers_kept) {
      answers.erase(answers_in_order.front());
      answers_in_order.erase(answers_in_order.begin());
    }
  }
  asked->ask(std::move(command).value(), {arrived.from, request->id, !request->id.empty()});
}

void Engine::Parts::take_record_answer(const AppendFinished& finished) {
  const auto found = on_its_way.find(finished.ticket);
  if (found == on_its_way.end())
    return;
  last_write_ok = finished.ok;
  OnItsWay& write = found->second;
  if (finished.ok) {
    for (auto& [index, permit] : write.permits)
      units[index].permit_on_record(std::move(permit));
  } else if (unwritten.entries.size() < unwritten_kept) {
    std::move(write.append.entries.begin(), write.append.entries.end(),
              std::back_inserter(unwritten.entries));
    std::move(write.append.states.begin(), write.append.states.end(),
              std::back_inserter(unwritten.states));
  }
  on_its_way.erase(found);
}

bool Engine::Parts::record_kept(Instant now) const {
  return last_write_ok && std::all_of(on_its_way.begin(), on_its_way.end(), [&](const auto& write) {
           return now.mono - write.second.since < record_deadline;
         });
}

void Engine::Parts::write_record(Append append, Instant now, std::vector<Effect>& effects) {
  for (const StoredState& state : append.states)
    if (state.table == "request")
      answers[state.key] = state.body;
  const bool has_old = !unwritten.entries.empty() || !unwritten.states.empty();
  const bool retry = has_old && (!retried || now.mono - *retried >= retry_record_after);
  if (retry) {
    retried = now.mono;
    std::move(append.entries.begin(), append.entries.end(), std::back_inserter(unwritten.entries));
    std::move(append.states.begin(), append.states.end(), std::back_inserter(unwritten.states));
    append = std::exchange(unwritten, {});
  }
  if (append.entries.empty() && append.states.empty())
    return;
  append.ticket = next_ticket++;
  on_its_way[append.ticket] = {append, now.mono, {}};
  effects.push_back(std::move(append));
}

void Engine::Parts::write_history(Instant now, std::vector<Effect>& effects) {
  const Duration every = last_write_ok ? history_every : retry_record_after;
  if (history_written && now.mono - *history_written < every)
    return;
  history_written = now.mono;
  AppendReadings rows;
  for (StationUnit& each : units)
    each.sample_history(now, rows);
  rows.ticket = next_ticket++;
  on_its_way[rows.ticket] = {{}, now.mono, {}};
  effects.push_back(std::move(rows));
}

}  // namespace brinegate::daemon
