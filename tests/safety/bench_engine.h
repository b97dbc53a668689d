// SPDX-License-Identifier: Apache-2.0
// The engine on the bench, in virtual time: a site of one station, its probes and its disk played
// by the test. What the engine wants done is kept with the time at which it said so.
#pragma once

#include <cstddef>
#include <map>
#include <memory>
#include <set>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include <nlohmann/json.hpp>

#include "daemon/engine/engine.h"
#include "rules/seawater.h"
#include "tests/safety/bench_station.h"

namespace brinegate::daemon {

inline config::Site bench_site() {
  config::Site site;
  site.name = "cellar";
  site.profiles = {bench_profile()};
  config::Station station;
  station.spec = bench_spec();
  station.profile = "reef";
  station.sources.resize(station.spec.probes.size());
  config::Pump pump;
  pump.output.address = config::ModbusOutput{"rack", 2, 0, config::TimedOn{16}, false};
  pump.second_cutoff = config::Output{config::ModbusOutput{"rack", 2, 2, std::nullopt, false}};
  station.pump = pump;
  site.stations.push_back(station);
  return site;
}

// The same with a drain and a hold-off of the tank's top-off (S18, S19).
inline config::Site exchange_site() {
  config::Site site = bench_site();
  config::Station& station = site.stations[0];
  station.spec = exchange_spec();
  station.sources.resize(station.spec.probes.size());
  station.hold_off = config::Output{config::ModbusOutput{"rack", 4, 0, config::TimedOn{16}, false}};
  station.drain = config::Output{config::ModbusOutput{"rack", 2, 3, config::TimedOn{17}, false}};
  return site;
}

inline std::string note_with_id(int number) {
  return R"({"station":"mixer","do":"note","text":"n","id":"n)" + std::to_string(number) + "\"}";
}

class BenchEngine {
 public:
  static constexpr std::size_t cell = 0, bath = 1, height = 2, circulation = 3, readback = 4,
                               leak = 5, top_off = 6, tank = 7, drain_readback = 8;
  template <class Wanted>
  struct At {
    MonoTime at;
    Wanted effect;
  };

  explicit BenchEngine(const RestoredStates& restored = {}, Instant now = start(),
                       config::Site site = bench_site(), std::size_t unwritten_kept = 10'000)
      : site_(std::move(site)),
        now_(now),
        engine_(std::move(Engine::create(site_, restored, now, unwritten_kept)).value()) {
    if (site_.stations[0].drain)
      shown[tank] = 500.0;
  }

  static Instant start() {
    return {MonoTime(std::chrono::hours(1000)),
            WallTime(Duration(std::chrono::seconds(1790000000)))};
  }

  std::map<std::size_t, double> shown{
      {bath, 25.0}, {height, 180.0}, {circulation, 1.0}, {leak, 0.0}};
  double salinity_psu = 34.836;
  bool disk_works = true;
  bool disk_answers = true;
  bool output_answers = true;
  bool output_reports = true;  // anything
  bool record_works = true;    // of the disk, beside its history

  [[nodiscard]] Instant now() const { return now_; }
  [[nodiscard]] Duration turn() const { return std::chrono::milliseconds(200); }
  [[nodiscard]] Duration lease() const { return site_.stations[0].spec.pump->lease; }
  [[nodiscard]] bool on(drivers::OutputRole role) const {
    const auto found = on_until_.find(role);
    return found != on_until_.end() && found->second > now_.mono;
  }
  [[nodiscard]] bool pump_on() const { return on(drivers::OutputRole::Pump); }

  void pass(Duration time) {
    for (Duration passed{0}; passed < time; passed += turn()) {
      now_.mono += turn();
      now_.wall += turn();
      one_turn();
    }
  }

  // No turn for so long, as if the process were frozen; then everything is fresh again at once.
  void stand_still(Duration time) {
    now_.mono += time;
    now_.wall += time;
    delivered_ = MonoTime{};
  }

  // One JSON request over the control socket or the broker; the answer of the next turns.
  nlohmann::json request(const std::string& payload, Origin origin = Origin::Local,
                         bool retained = false) {
    const std::size_t before = replies_.size();
    queue_.push_back(RequestArrived{++asker_, origin, "mixer", payload, retained});
    pass(turn());
    if (replies_.size() == before)
      pass(2 * turn());  // what promises to be on record waits for the disk
    return replies_.size() > before ? nlohmann::json::parse(replies_.back().payload)
                                    : nlohmann::json();
  }
  bool ask_change(const std::string& volume) {
    const nlohmann::json change = {{"id", "c" + std::to_string(++asker_)},
                                   {"station", "mixer"},
                                   {"do", "change"},
                                   {"volume", volume}};
    const nlohmann::json answer = request(change.dump());
    return answer.is_object() && answer.value("ok", false);
  }
  void prove() {
    pass(std::chrono::seconds(30));
    request(R"({"station":"mixer","do":"begin","lot":"H-2291","profile":"reef"})");
    pass(std::chrono::minutes(45));
  }
  // From nothing to a change that runs; whether the pump does.
  bool begin_change() {
    prove();
    const bool accepted = ask_change("50 L");
    pass(std::chrono::seconds(5));
    return accepted && pump_on();
  }
  // The station as `status` tells it.
  nlohmann::json station() { return request(R"({"do":"status"})").at("stations").at(0); }
  nlohmann::json check(const std::string& id) {
    const nlohmann::json told = station();
    for (const auto& check : told.at("checks"))
      if (check.at("id") == id)
        return check;
    return {};
  }
  void send(Event event) { queue_.push_back(std::move(event)); }

  [[nodiscard]] std::vector<At<DriveOutput>> drives(drivers::OutputRole role) const {
    std::vector<At<DriveOutput>> found;
    for (const auto& each : drives_)
      if (each.effect.output.role == role)
        found.push_back(each);
    return found;
  }
  // Everything in the order in which it was wanted.
  [[nodiscard]] const std::vector<At<Effect>>& effects() const { return effects_; }
  [[nodiscard]] std::vector<RecordEntry> on_disk(const std::string& kind) const {
    std::vector<RecordEntry> found;
    for (const RecordEntry& entry : on_disk_)
      if (entry.kind == kind)
        found.push_back(entry);
    return found;
  }
  [[nodiscard]] RestoredStates stored() const {
    RestoredStates states;
    for (const auto& [key, state] : stored_)
      states.push_back(state);
    return states;
  }
  [[nodiscard]] const std::vector<Reply>& replies() const { return replies_; }
  void forget() {
    drives_.clear();
    effects_.clear();
  }

 private:
  void one_turn() {
    deliver();
    const std::vector<Event> events = std::exchange(queue_, {});
    for (const Effect& effect : engine_->turn(events, now_)) {
      effects_.push_back({now_.mono, effect});
      carry_out(effect);
    }
  }
  void carry_out(const Effect& effect) {
    if (const auto* drive = std::get_if<DriveOutput>(&effect)) {
      drives_.push_back({now_.mono, *drive});
      on_until_[drive->output.role] = drive->on_until.value_or(MonoTime{});
      if (output_reports)
        queue_.push_back(
            OutputReported{{drive->output, drive->on_until.has_value(),
                            output_answers ? SampleFault::None : SampleFault::Timeout}});
    } else if (const auto* append = std::get_if<Append>(&effect)) {
      if (disk_works && record_works && disk_answers) {
        on_disk_.insert(on_disk_.end(), append->entries.begin(), append->entries.end());
        for (const StoredState& state : append->states)
          if (state.body.empty())
            stored_.erase(state.table + "/" + state.key);
          else
            stored_[state.table + "/" + state.key] = state;
      }
      disk_answer(append->ticket, disk_works && record_works);
    } else if (const auto* readings = std::get_if<AppendReadings>(&effect)) {
      disk_answer(readings->ticket, disk_works);
    } else if (const auto* reply = std::get_if<Reply>(&effect)) {
      replies_.push_back(*reply);
    }
  }
  void disk_answer(std::uint64_t ticket, bool written) {
    if (disk_answers)
      queue_.push_back(AppendFinished{ticket, written});
  }
  void deliver() {
    const double filled = pump_on() ? 12.0 / 60.0 * seconds(turn()) : 0.0;
    const bool drains = on(drivers::OutputRole::Drain);
    shown[height] -= filled;
    shown[readback] = pump_on() ? 1.0 : 0.0;
    if (site_.stations[0].drain) {
      shown[tank] += filled - (drains ? 10.0 / 60.0 * seconds(turn()) : 0.0);
      shown[drain_readback] = drains ? 1.0 : 0.0;
      shown[top_off] = on(drivers::OutputRole::HoldOff) ? 1.0 : 0.0;
    }
    if (now_.mono - delivered_ < std::chrono::seconds(1))
      return;
    delivered_ = now_.mono;
    const auto c = conductivity(PracticalSalinity(salinity_psu), Celsius(shown[bath]));
    add(cell, c.value());
    for (const auto& [probe, value] : shown)
      add(probe, value);
  }
  void add(std::size_t probe, double value) {
    if (probe >= site_.stations[0].spec.probes.size())
      return;
    Sample sample;
    sample.value = value;
    sample.arrived = now_.mono;
    sample.fault = SampleFault::None;
    queue_.push_back(SampleArrived{{0, probe}, sample});
  }

  const config::Site site_;
  Instant now_;
  std::unique_ptr<Engine> engine_;
  MonoTime delivered_;
  std::map<drivers::OutputRole, MonoTime> on_until_;
  std::vector<Event> queue_;
  std::vector<At<Effect>> effects_;
  std::vector<At<DriveOutput>> drives_;
  std::vector<RecordEntry> on_disk_;
  std::map<std::string, StoredState> stored_;
  std::vector<Reply> replies_;
  ReplyAddress asker_ = 0;
};

}  // namespace brinegate::daemon
