// SPDX-License-Identifier: Apache-2.0
// A whole station on the bench, in virtual time: its probes show what the test says, its pump does
// what it is told unless the test says otherwise. Tests read as stories.
#pragma once

#include <map>
#include <optional>
#include <set>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "rules/check_catalogue.h"
#include "rules/seawater.h"
#include "rules/station.h"

namespace brinegate {

using namespace std::chrono_literals;

// A generic station: one conductivity cell, bath temperature, level, circulation, read-back, leak.
inline StationSpec bench_spec() {
  StationSpec spec;
  spec.name = "mixer";
  spec.capacity = Litres(200.0);
  spec.low_level = Litres(20.0);
  const auto add = [&spec](std::string name, Measures measures) {
    ProbeSpec probe;
    probe.name = std::move(name);
    probe.measures = measures;
    probe.limits = default_sample_limits(measures, 200.0);
    probe.uncertainty = default_probe_uncertainty(measures);
    probe.drift_per_day = default_probe_drift(measures);
    spec.probes.push_back(probe);
  };
  add("cell_a", Measures::Conductivity);
  add("bath", Measures::Temperature);
  add("height", Measures::Level);
  add("circulation", Measures::Circulation);
  add("readback", Measures::PumpRunning);
  add("floor", Measures::Leak);
  spec.probes[0].temperature_from = 1;
  spec.probes[0].limits.flat_line_after.reset();  // the bench's water is steady to the last digit
  PumpSpec pump;
  pump.max_volume = Litres(60.0);
  pump.max_run = 15min;
  pump.has_readback = true;
  spec.pump = pump;
  return spec;
}

inline Profile bench_profile() {
  Profile profile;
  profile.name = "reef";
  return profile;
}

// The same with a contact of the tank's top-off that confirms a hold (S18).
inline StationSpec held_off_spec() {
  StationSpec spec = bench_spec();
  ProbeSpec held;
  held.name = "top_off";
  held.measures = Measures::HeldOff;
  held.limits = default_sample_limits(held.measures, 200.0);
  spec.probes.push_back(held);
  spec.hold_off = HoldOffSpec{};
  return spec;
}

// And with a drain, its read-back, and the tank's level (S19).
inline StationSpec exchange_spec() {
  StationSpec spec = held_off_spec();
  for (const Measures measures : {Measures::TankLevel, Measures::DrainRunning}) {
    ProbeSpec probe;
    probe.name = measures == Measures::TankLevel ? "tank" : "drain_readback";
    probe.measures = measures;
    probe.limits = default_sample_limits(measures, 200.0);
    probe.uncertainty = default_probe_uncertainty(measures);
    spec.probes.push_back(probe);
  }
  DrainSpec drain;
  drain.pump.max_run = 15min;
  drain.pump.has_readback = true;
  drain.portion = Litres(20.0);
  drain.tolerance = Litres(2.0);
  drain.pump.unasked_loss = Litres(4.0);
  spec.drain = drain;
  return spec;
}

class BenchStation {
 public:
  static constexpr std::size_t cell = 0, bath = 1, height = 2, circulation = 3, readback = 4,
                               leak = 5, top_off = 6, tank = 7, drain_readback = 8;

  explicit BenchStation(StationSpec spec = bench_spec()) : spec_(std::move(spec)), station_(spec_) {
    if (spec_.drain)
      shown[tank] = 500.0;
  }

  // What the probes show. A probe with no value delivers nothing; a fault delivers that.
  std::map<std::size_t, double> shown{
      {bath, 25.0}, {height, 180.0}, {circulation, 1.0}, {leak, 0.0}};
  std::map<std::size_t, SampleFault> faults;
  std::set<std::size_t> silent;  // probes that deliver nothing any more
  double salinity_psu = 34.836;
  double pump_litres_per_minute = 12.0;  // while it has power
  bool record_kept = true;
  bool output_answers = true;
  bool record_permits = true;  // the disk confirms permits at once
  bool relay_follows = true;   // the read-back shows what was told
  bool relay_welded = false;   // the read-back shows power whatever was told
  bool hold_follows = true;    // the top-off's contact shows what was told
  bool hold_stuck = false;     // it shows a hold whatever was told
  bool drain_follows = true;
  bool drain_welded = false;
  double drain_litres_per_minute = 10.0;  // while it has power
  double siphon_litres_per_minute = 0.0;  // out of the tank, whatever has power
  double arrives = 1.0;                   // share of what the pump moves that reaches the tank
  bool output_taken_over = false;
  bool simulated = false;
  bool ending = false;
  Duration sample_period = 1s;

  [[nodiscard]] Station& station() { return station_; }
  [[nodiscard]] const StationSpec& spec() const { return spec_; }
  [[nodiscard]] Instant now() const { return now_; }
  [[nodiscard]] bool pump_on() const { return outcome_.pump_on; }
  [[nodiscard]] bool drain_on() const { return outcome_.drain_on; }
  [[nodiscard]] bool hold_off_on() const { return outcome_.hold_off_on; }
  [[nodiscard]] bool second_cutoff_on() const { return outcome_.second_cutoff_on; }
  [[nodiscard]] bool open() const { return station_.gate().state() == GateState::Open; }
  [[nodiscard]] Verdict verdict(CheckId id) const {
    return station_.checks()[static_cast<std::size_t>(id)].verdict;
  }
  [[nodiscard]] BatchPhase phase() const { return station_.batch().phase; }
  void jump_wall_time(Duration by) { now_.wall += by; }

  // Time passes; the probes deliver once a period; commands go in with the first turn.
  void pass(Duration time, Duration turn = 1s) {
    for (Duration passed{0}; passed < time; passed += turn) {
      now_.mono += turn;
      now_.wall += turn;
      one_turn();
    }
  }
  void one_turn() {
    StationInputs inputs;
    inputs.record_kept = record_kept;
    inputs.output_answers = output_answers;
    inputs.ending = ending;
    inputs.output_taken_over = std::exchange(output_taken_over, false);
    if (record_permits && station_.gate().permit())
      inputs.permit_on_record = station_.gate().permit()->id;
    inputs.commands = std::exchange(commands_, {});
    move_water();
    deliver(inputs.samples);
    outcome_ = station_.step(inputs, now_);
    answers_.insert(answers_.end(), outcome_.answers.begin(), outcome_.answers.end());
    events_.insert(events_.end(), outcome_.events.begin(), outcome_.events.end());
  }

  void queue(Command command) { commands_.push_back(std::move(command)); }
  CommandAnswer ask(Command command) {
    commands_.push_back(std::move(command));
    pass(1s);
    return answers_.back();
  }
  void begin_batch() {
    BeginCommand begin;
    begin.batch = "mixer-1";
    begin.salts = {salt_of("H-2291")};
    begin.profile = bench_profile();
    ask(begin);
  }
  // From nothing to proven and ready, the slow and honest way.
  void prove() {
    pass(30s);
    begin_batch();
    pass(45min);
  }
  CommandAnswer ask_change(double litres) { return ask(ChangeCommand{Litres(litres)}); }

  template <class EventType>
  [[nodiscard]] std::vector<EventType> events() const {
    std::vector<EventType> found;
    for (const StationEvent& event : events_)
      if (const auto* one = std::get_if<EventType>(&event))
        found.push_back(*one);
    return found;
  }
  void forget_events() { events_.clear(); }

  // As after a crash: only what was stored, the calibrations and the clock remain.
  void restart(const StationMemory& memory) {
    station_ = Station(spec_);
    station_.restore(memory, memory.batch.profile, now_);
    outcome_ = {};
  }

 private:
  void move_water() {
    const bool powered = relay_welded || (outcome_.pump_on && relay_follows);
    shown[readback] = powered ? 1.0 : 0.0;
    const double filled = powered ? pump_litres_per_minute / 60.0 : 0.0;
    const bool drains = drain_welded || (outcome_.drain_on && drain_follows);
    if (spec_.drain)
      shown[drain_readback] = drains ? 1.0 : 0.0;
    if (spec_.hold_off)
      shown[top_off] = hold_stuck || (outcome_.hold_off_on && hold_follows) ? 1.0 : 0.0;
    if (shown.count(height) != 0)
      shown[height] -= filled;
    if (spec_.drain)
      shown[tank] += filled * arrives - siphon_litres_per_minute / 60.0 -
                     (drains ? drain_litres_per_minute / 60.0 : 0.0);
  }
  void deliver(std::vector<ProbeSample>& samples) {
    if (now_.mono - delivered_ < sample_period)
      return;
    delivered_ = now_.mono;
    if (shown.count(bath) != 0 && shown.count(cell) == 0)
      add(samples, cell,
          conductivity(PracticalSalinity(salinity_psu), Celsius(shown[bath])).value());
    for (const auto& [probe, value] : shown)
      add(samples, probe, value);
  }
  void add(std::vector<ProbeSample>& samples, std::size_t probe, double value) {
    if (probe >= spec_.probes.size() || silent.count(probe) != 0)
      return;
    Sample sample;
    sample.value = value;
    sample.arrived = now_.mono;
    sample.simulated = simulated;
    const auto fault = faults.find(probe);
    sample.fault = fault == faults.end() ? SampleFault::None : fault->second;
    samples.push_back({probe, sample});
  }

  StationSpec spec_;
  Station station_;
  Instant now_{MonoTime(1000h), WallTime(Duration(1'790'000'000s))};
  MonoTime delivered_;
  std::vector<Command> commands_;
  StationOutcome outcome_;
  std::vector<CommandAnswer> answers_;
  std::vector<StationEvent> events_;
};

}  // namespace brinegate
