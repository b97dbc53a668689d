// SPDX-License-Identifier: Apache-2.0
#include "daemon/engine/engine.h"

#include <algorithm>
#include <map>
#include <utility>
#include <variant>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "config/advice.h"
#include "config/nearest.h"
#include "config/words.h"
#include "daemon/engine/announcer.h"
#include "daemon/engine/library_question.h"
#include "daemon/engine/library_request.h"
#include "daemon/engine/request_command.h"
#include "daemon/engine/state_json.h"
#include "daemon/engine/station_unit.h"
#include "daemon/engine/view.h"

namespace brinegate::daemon {
namespace {

using namespace std::chrono_literals;

constexpr Duration retry_record_after = 1s;
constexpr Duration record_deadline = 3s;     // a disk that has not answered for so long has failed
constexpr std::size_t unanswered_kept = 64;  // writes, of a disk that does not answer
constexpr std::size_t unwritten_requests_kept = 100;  // while the disk takes nothing
// Stations of which all is said in one turn: a connection takes only so much at once.
constexpr std::size_t told_a_turn = 20;

}  // namespace

struct Engine::Parts {
  Parts(const config::Site& configured, std::size_t most_unwritten)
      : site(configured),
        unwritten_kept(most_unwritten),
        announcer(site),
        told_up_to(site.stations.size()) {
    for (std::size_t i = 0; i < site.stations.size(); ++i)
      units.emplace_back(site.stations[i], i);
  }

  void take(const Event& event, Instant now, std::vector<Effect>& effects);
  void take_request(const RequestArrived& arrived, Instant now, std::vector<Effect>& effects);
  void take_library_request(const RequestArrived& arrived, const Request& request, Instant now,
                            std::vector<Effect>& effects);
  void take_unlearn_request(const RequestArrived& arrived, const Request& request,
                            const UnlearnLot& unlearn, Instant now, std::vector<Effect>& effects);
  void take_shelf_request(const RequestArrived& arrived, const Request& request, StationUnit& unit,
                          Instant now, std::vector<Effect>& effects);
  // As to somebody who knows nothing yet.
  void tell_everything(MonoTime now, std::vector<Effect>& effects);
  // Stores it, and says it at once or when it is on disk.
  void give(RequestAnswer answer, Append& append, std::vector<Effect>& effects);
  void take_record_answer(const AppendFinished& finished, Instant now,
                          std::vector<Effect>& effects);
  void refuse(const RequestArrived& request, const std::string& id, const std::string& why,
              std::vector<Effect>& effects) const;
  // A repeated id has its answer, and what the disk cannot take is not begun. Who stops a change is
  // never turned away for that.
  bool turned_away(const RequestArrived& arrived, const Request& request,
                   const std::string& station, Instant now, std::vector<Effect>& effects);
  bool takes_no_more(Instant now) const;
  // Its answer, which is kept where the disk can take it.
  void expect(const std::string& station, const std::string& id, Instant now);
  StationUnit* unit(const std::string& name);
  std::optional<Profile> profile(const std::string& name) const;
  bool record_kept(Instant now) const;
  // By a broker or a dashboard; else nothing needs to be said twice.
  bool is_listened_to() const { return site.mqtt || site.http; }
  void gather(Append append);
  void write_record(Instant now, std::vector<Effect>& effects);
  void tell_where_disk_hangs(Instant now, std::vector<Effect>& effects);
  void write_history(Instant now, std::vector<Effect>& effects);

  const config::Site site;
  const std::size_t unwritten_kept;  // entries
  Announcer announcer;
  std::size_t told_up_to;  // of the rest of the stations all is to be said
  std::vector<StationUnit> units;
  LotYields yields;
  Library library;
  Answers answers;
  Append of_requests;  // what they have changed in this turn besides a station

  // The record. One append is on its way at a time, so that what is stored is always the latest;
  // what happens meanwhile, and what the disk refused, waits.
  struct Waiting {
    Append append;
    std::vector<std::pair<std::size_t, std::string>> permits;  // station and permit
    std::vector<RequestAnswer> answers;                        // that promise that it is stored
  };
  Waiting waiting;
  std::optional<Waiting> on_its_way;
  std::map<std::uint64_t, MonoTime> unanswered;  // by ticket, of record and history
  std::uint64_t next_ticket = 1;
  std::size_t unwritten_requests = 0;  // taken since the disk last took anything
  std::size_t lost_entries = 0;        // beyond what is kept
  bool record_ok = false;              // shut until the disk has answered once
  bool history_ok = false;
  std::optional<MonoTime> refused_at;
  std::optional<MonoTime> history_written;

  bool first_turn = true;
  bool ending = false;
  bool broker_there = false;
};

Engine::Engine(std::unique_ptr<Parts> parts) : parts_(std::move(parts)) {}
Engine::~Engine() = default;

Result<std::unique_ptr<Engine>> Engine::create(const config::Site& site,
                                               const RestoredStates& restored, Instant now,
                                               std::size_t unwritten_kept) {
  auto parts = std::make_unique<Parts>(site, unwritten_kept);
  for (const StoredState& state : restored)
    if (Library::keeps(state.table))
      if (const auto kept = parts->library.restore(state); !kept)
        return kept.error();
  for (const StoredState& state : restored) {
    if (state.table == yield_table) {
      const auto lot = lot_yield_from(state.body);
      if (!lot)
        return Error{fmt::format("lot-yield {}: {}", state.key, lot.error().message)};
      parts->yields[state.key] = *lot;
      continue;
    }
    if (state.table == Announcer::table) {
      if (const auto kept = parts->announcer.restore(state); !kept)
        return kept.error();
      continue;
    }
    if (state.table == Answers::table) {
      if (const auto kept = parts->answers.restore(state); !kept)
        return kept.error();
      continue;
    }
    StationUnit* unit = parts->unit(state.station);
    if (unit == nullptr)
      continue;  // a station that is no longer configured
    if (state.table == "station") {
      const auto memory = station_memory_from(state.body);
      if (!memory)
        return Error{fmt::format("station {}: {}", state.station, memory.error().message)};
      unit->restore(*memory, parts->profile(memory->batch.profile.name), now, parts->library);
    } else if (state.table == "calibration") {
      const auto calibration = calibration_from(state.body);
      if (!calibration)
        return Error{fmt::format("calibration {}: {}", state.key, calibration.error().message)};
      unit->restore_calibration(state.key.substr(state.key.find('/') + 1), *calibration);
    } else if (state.table == "probe") {
      auto record = probe_record_from(state.body);
      if (!record)
        return Error{fmt::format("probe {}: {}", state.key, record.error().message)};
      unit->restore_probe(state.key.substr(state.key.find('/') + 1), std::move(record).value());
    } else if (state.table == "verification") {
      const auto verification = verification_from(state.body);
      if (!verification)
        return Error{fmt::format("verification {}: {}", state.key, verification.error().message)};
      unit->restore_verification(state.key.substr(state.key.find('/') + 1), *verification);
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
  Append append = std::exchange(p.of_requests, {});
  if (std::exchange(p.first_turn, false))
    append.entries.push_back({now.wall, "", "started", "{}"});
  const std::size_t told_from = p.told_up_to;
  p.told_up_to = std::min(told_from + told_a_turn, p.units.size());
  for (std::size_t i = 0; i < p.units.size(); ++i) {
    if (const auto permit =
            p.units[i].step(record_kept, p.ending, now, effects, append, p.yields, p.library))
      p.waiting.permits.emplace_back(i, *permit);
    for (RequestAnswer& answer : p.units[i].take_answers())
      p.give(std::move(answer), append, effects);
    const bool everything = i >= told_from && i < p.told_up_to;
    if (everything)
      p.announcer.announce(i, append, effects);
    p.units[i].publish(now, everything, p.is_listened_to(), effects);
  }
  p.announcer.settle(now.mono, append);
  p.gather(std::move(append));
  p.write_record(now, effects);
  p.tell_where_disk_hangs(now, effects);
  p.write_history(now, effects);
  return effects;
}

void Engine::Parts::take(const Event& event, Instant now, std::vector<Effect>& effects) {
  if (const auto* sample = std::get_if<SampleArrived>(&event)) {
    units[sample->probe.station].take(*sample);
  } else if (const auto* output = std::get_if<OutputReported>(&event)) {
    units[output->report.output.station].take(output->report, now.mono, effects);
  } else if (const auto* request = std::get_if<RequestArrived>(&event)) {
    take_request(*request, now, effects);
  } else if (const auto* finished = std::get_if<AppendFinished>(&event)) {
    take_record_answer(*finished, now, effects);
  } else if (const auto* broker = std::get_if<BrokerChanged>(&event)) {
    broker_there = broker->connected;
    if (broker_there)
      tell_everything(now.mono, effects);
    else
      announcer.broker_lost();
  } else if (std::holds_alternative<HomeAutomationStarted>(event) && broker_there) {
    effects.push_back(Publish{"status", "online"});
    tell_everything(now.mono, effects);
  } else if (std::holds_alternative<StopAsked>(event)) {
    ending = true;
  }
}

void Engine::Parts::tell_everything(MonoTime now, std::vector<Effect>& effects) {
  announcer.begin(now, effects);
  told_up_to = 0;
}

StationUnit* Engine::Parts::unit(const std::string& name) {
  const auto found = std::find_if(units.begin(), units.end(), [&name](const StationUnit& unit) {
    return unit.station().spec().name == name;
  });
  return found == units.end() ? nullptr : &*found;
}

std::optional<Profile> Engine::Parts::profile(const std::string& name) const {
  const auto found = std::find_if(site.profiles.begin(), site.profiles.end(),
                                  [&name](const Profile& each) { return each.name == name; });
  return found == site.profiles.end() ? std::nullopt : std::optional(*found);
}

void Engine::Parts::refuse(const RequestArrived& request, const std::string& id,
                           const std::string& why, std::vector<Effect>& effects) const {
  const Json reply = {{"id", id}, {"ok", false}, {"message", why}, {"reasons", Json::array()}};
  effects.push_back(Reply{request.from, request.station, dump(reply)});
}

void Engine::Parts::take_request(const RequestArrived& arrived, Instant now,
                                 std::vector<Effect>& effects) {
  const bool from_network = arrived.origin == Origin::Network;
  if (arrived.retained)
    return refuse(arrived, "", "Refused: a retained request is never honoured.", effects);
  auto request = parse_request(
      arrived.payload, arrived.origin == Origin::Local ? largest_local_request : largest_request);
  if (!request)
    return refuse(arrived, "", "Refused: " + request.error().message + ".", effects);
  const std::string station = from_network ? arrived.station : request->station;
  const bool only_reads = arrived.origin == Origin::Reader;
  if (arrived.origin != Origin::Local && !only_reads && request->id.empty())
    return refuse(arrived, "", "Refused: 'id' is missing; a repeated id acts once.", effects);

  if (std::holds_alternative<AskStatus>(request->act)) {
    Json stations = Json::array();
    for (const StationUnit& each : units)
      if (station.empty() || each.station().spec().name == station)
        stations.push_back(each.view(now));
    if (stations.empty() && !station.empty())
      return refuse(arrived, request->id, unknown_station(station, site), effects);
    const Json reply = {
        {"id", request->id}, {"ok", true}, {"site", site.name}, {"stations", stations}};
    effects.push_back(Reply{arrived.from, arrived.station, dump(reply)});
    return;
  }
  if (only_reads)
    return refuse(arrived, request->id, "Refused: whoever reads asks for the state alone.",
                  effects);
  if (asks_library(*request) || concerns_library(*request))
    return take_library_request(arrived, *request, now, effects);
  if (const auto* unlearn = std::get_if<UnlearnLot>(&request->act))
    return take_unlearn_request(arrived, *request, *unlearn, now, effects);
  StationUnit* const asked = unit(station);
  if (asked == nullptr)
    return refuse(arrived, request->id, unknown_station(station, site), effects);
  if (turned_away(arrived, *request, station, now, effects))
    return;
  if (concerns_shelf(*request))
    return take_shelf_request(arrived, *request, *asked, now, effects);
  if (from_network && !std::holds_alternative<StopChange>(request->act) &&
      !asked->network_may_ask(now.mono))
    return refuse(arrived, request->id, "Refused: too many requests; ask again in a while.",
                  effects);
  const BatchIds ids{now.wall, asked->station().batch().id};
  auto command = command_of(*request, arrived.origin, site, *asked, ids, {library, yields});
  if (!command)
    return refuse(arrived, request->id, "Refused: " + command.error().message + ".", effects);
  expect(station, request->id, now);
  // Who stopped a change need not wait for a disk to hear it.
  const bool once_stored = !std::holds_alternative<StopChange>(request->act);
  asked->ask(std::move(command).value(), {arrived.from, request->id, once_stored});
}

bool Engine::Parts::turned_away(const RequestArrived& arrived, const Request& request,
                                const std::string& station, Instant now,
                                std::vector<Effect>& effects) {
  if (answers.repeats(station, request.id, arrived.from, effects))
    return true;
  if (!takes_no_more(now) || std::holds_alternative<StopChange>(request.act))
    return false;
  refuse(arrived, request.id,
         "Refused: the disk takes no record, and too much waits for it already; nothing was done. "
         "See to the disk, then ask again.",
         effects);
  return true;
}

void Engine::Parts::expect(const std::string& station, const std::string& id, Instant now) {
  if (takes_no_more(now))
    return;
  ++unwritten_requests;
  answers.expect(station, id, of_requests);
}

bool Engine::Parts::takes_no_more(Instant now) const {
  const std::size_t unwritten =
      waiting.append.entries.size() + (on_its_way ? on_its_way->append.entries.size() : 0);
  return !record_kept(now) && (unwritten_requests >= unwritten_requests_kept ||
                               unwritten >= unwritten_kept - unwritten_kept / 10);
}

void Engine::Parts::take_shelf_request(const RequestArrived& arrived, const Request& request,
                                       StationUnit& unit, Instant now,
                                       std::vector<Effect>& effects) {
  if (arrived.origin == Origin::Network)
    return refuse(arrived, request.id,
                  "Refused: this can only be asked on the machine itself, with the command line.",
                  effects);
  const std::string& station = unit.station().spec().name;
  expect(station, request.id, now);
  const auto* shelve = std::get_if<ShelveAlarm>(&request.act);
  Json reply = shelve != nullptr
                   ? unit.shelf().shelve(*shelve, now, of_requests)
                   : unit.shelf().unshelve(std::get<UnshelveAlarm>(request.act), now, of_requests);
  reply["id"] = request.id;
  reply["station"] = station;
  give({{arrived.from, station, dump(reply)}, request.id, reply.at("ok") == true}, of_requests,
       effects);
}

void Engine::Parts::take_library_request(const RequestArrived& arrived, const Request& request,
                                         Instant now, std::vector<Effect>& effects) {
  if (asks_library(request) && arrived.origin == Origin::Token)
    return refuse(arrived, request.id,
                  "Refused: lots and tanks are read with GET, under /api/v1/lots and "
                  "/api/v1/tanks, where what takes long holds up no turn.",
                  effects);
  if (asks_library(request) && arrived.origin == Origin::Local) {
    effects.push_back(Reply{arrived.from, "", dump(answer_question(library, request, now.wall))});
    return;
  }
  if (!may_ask(request, arrived.origin))
    return refuse(arrived, request.id,
                  "Refused: lots and tanks are entered and read on the machine itself.", effects);
  if (turned_away(arrived, request, "", now, effects))
    return;
  expect("", request.id, now);
  const Json reply = apply_library_request(library, request, of_requests, now.wall, arrived.origin);
  const bool done = reply.at("ok") == true;
  if (std::holds_alternative<AddLot>(request.act) && done)
    for (StationUnit& each : units)
      each.lot_recorded(*library.lot(reply.at("lot").get<std::string>()), now.wall);
  give({{arrived.from, "", dump(reply)}, request.id, done}, of_requests, effects);
}

void Engine::Parts::take_unlearn_request(const RequestArrived& arrived, const Request& request,
                                         const UnlearnLot& unlearn, Instant now,
                                         std::vector<Effect>& effects) {
  if (!may_ask(request, arrived.origin))
    return refuse(arrived, request.id,
                  "Refused: what a lot yields moves what a dose is checked against, so that it is "
                  "forgotten on the machine itself only, with the command line.",
                  effects);
  if (turned_away(arrived, request, "", now, effects))
    return;
  const auto known = yields.find(unlearn.lot);
  if (known == yields.end())
    return refuse(arrived, request.id,
                  fmt::format("Refused: nothing was learned of lot '{}'.", unlearn.lot), effects);
  expect("", request.id, now);
  const std::string was = config::sentence(unlearn.lot, known->second);
  of_requests.entries.push_back({now.wall, "", "yield-unlearned",
                                 dump({{"lot", unlearn.lot}, {"by", unlearn.by}, {"was", was}})});
  of_requests.states.push_back({yield_table, unlearn.lot, "", ""});
  yields.erase(known);
  const Json reply = {{"id", request.id},
                      {"ok", true},
                      {"message", fmt::format("Done: forgotten is that {} The next batch of it "
                                              "counts as the first.",
                                              was)},
                      {"reasons", Json::array()},
                      {"lot", unlearn.lot}};
  give({{arrived.from, "", dump(reply)}, request.id, true}, of_requests, effects);
}

void Engine::Parts::give(RequestAnswer answer, Append& append, std::vector<Effect>& effects) {
  answers.store(answer, append);
  if (answer.once_stored)
    waiting.answers.push_back(std::move(answer));
  else
    answers.say(answer, effects);
}

void Engine::Parts::take_record_answer(const AppendFinished& finished, Instant now,
                                       std::vector<Effect>& effects) {
  if (unanswered.erase(finished.ticket) == 0)
    return;
  if (!on_its_way || on_its_way->append.ticket != finished.ticket) {
    history_ok = finished.ok;
    return;
  }
  record_ok = finished.ok;
  Waiting written = std::move(*on_its_way);
  on_its_way.reset();
  if (finished.ok) {
    unwritten_requests = 0;
    if (const std::size_t lost = std::exchange(lost_entries, 0); lost > 0)
      of_requests.entries.push_back({now.wall, "", "entries-lost", dump({{"count", lost}})});
    for (auto& [index, permit] : written.permits)
      units[index].permit_on_record(std::move(permit));
    for (const RequestAnswer& answer : written.answers)
      answers.say(answer, effects);
    return;
  }
  // Tried again with what has come since; of each state the latest. Its permits are not: the gate
  // has taken them back.
  refused_at = now.mono;
  for (RequestAnswer& answer : written.answers)
    answers.say_unwritten(answer, effects);
  waiting.answers.insert(waiting.answers.begin(), written.answers.begin(), written.answers.end());
  Append later = std::exchange(waiting.append, std::move(written.append));
  gather(std::move(later));
}

// Adds to what waits for the disk.
void Engine::Parts::gather(Append append) {
  auto& entries = waiting.append.entries;
  for (RecordEntry& entry : append.entries)
    if (entries.size() < unwritten_kept)
      entries.push_back(std::move(entry));
    else
      ++lost_entries;
  auto& states = waiting.append.states;
  for (StoredState& state : append.states) {
    const auto same = std::find_if(states.begin(), states.end(), [&state](const StoredState& old) {
      return old.table == state.table && old.key == state.key;
    });
    if (same == states.end())
      states.push_back(std::move(state));
    else
      *same = std::move(state);
  }
}

bool Engine::Parts::record_kept(Instant now) const {
  return record_ok && history_ok &&
         std::all_of(unanswered.begin(), unanswered.end(),
                     [&](const auto& write) { return now.mono - write.second < record_deadline; });
}

void Engine::Parts::write_record(Instant now, std::vector<Effect>& effects) {
  const bool nothing = waiting.append.entries.empty() && waiting.append.states.empty();
  if (nothing)
    for (const RequestAnswer& answer : std::exchange(waiting.answers, {}))
      answers.say(answer, effects);
  const bool too_soon = refused_at && now.mono - *refused_at < retry_record_after;
  if (on_its_way || nothing || too_soon)
    return;
  refused_at.reset();
  on_its_way = std::exchange(waiting, {});
  on_its_way->append.ticket = next_ticket++;
  unanswered[on_its_way->append.ticket] = now.mono;
  effects.push_back(on_its_way->append);
}

void Engine::Parts::tell_where_disk_hangs(Instant now, std::vector<Effect>& effects) {
  if (!on_its_way || now.mono - unanswered.at(on_its_way->append.ticket) < record_deadline)
    return;
  for (Waiting* each : {&*on_its_way, &waiting})
    for (RequestAnswer& answer : each->answers)
      answers.say_unwritten(answer, effects);
}

void Engine::Parts::write_history(Instant now, std::vector<Effect>& effects) {
  const Duration every = history_ok ? history_every : retry_record_after;
  if (unanswered.size() >= unanswered_kept ||
      (history_written && now.mono - *history_written < every))
    return;
  history_written = now.mono;
  AppendReadings rows;
  for (StationUnit& each : units)
    each.sample_history(now, rows);
  rows.ticket = next_ticket++;
  unanswered[rows.ticket] = now.mono;
  effects.push_back(std::move(rows));
}

}  // namespace brinegate::daemon
