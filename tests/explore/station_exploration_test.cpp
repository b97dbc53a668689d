// SPDX-License-Identifier: Apache-2.0
// The station's whole decision, explored: whatever comes to a small station in whatever order, it
// is never open without its reasons, and from wherever it got it opens again once all is well.
#include <algorithm>
#include <cmath>
#include <optional>
#include <string>
#include <vector>

#include <gtest/gtest.h>

#include "rules/station.h"
#include "tests/explore/exploration.h"
#include "tests/explore/known.h"
#include "tests/explore/revealed.h"
#include "tests/explore/run_key.h"
#include "tests/explore/small_station.h"

namespace brinegate::explore {

BRINEGATE_REVEAL(batch_in, Station, batch_);
BRINEGATE_REVEAL(judges_of, Station, judges_);
BRINEGATE_REVEAL(dissolution_in, Station, dissolution_);
BRINEGATE_REVEAL(settling_of, Station, settling_);
BRINEGATE_REVEAL(water_moved, Station, water_moved_);
BRINEGATE_REVEAL(evenly_since, Station, evenly_since_);
BRINEGATE_REVEAL(evenly_from, Station, evenly_from_);
BRINEGATE_REVEAL(away_since, Station, away_since_);
BRINEGATE_REVEAL(proof_checks_met_since, Station, proof_checks_met_since_);
BRINEGATE_REVEAL(rejection_since, Station, rejection_since_);
BRINEGATE_REVEAL(moved_since, Station, moved_since_);
BRINEGATE_REVEAL(doubted_since, Station, doubted_since_);
BRINEGATE_REVEAL(rose_since, Station, rose_since_);
BRINEGATE_REVEAL(evaporated_since, Station, evaporated_since_);
BRINEGATE_REVEAL(drawn_at, Station, drawn_at_);
BRINEGATE_REVEAL(interrupted_change, Station, interrupted_);
BRINEGATE_REVEAL(run_while_proven_of, Station, run_while_proven_);
BRINEGATE_REVEAL(supervision_of, Station, supervision_);
BRINEGATE_REVEAL(accepted_by, ProbeJudge, accepted_);
BRINEGATE_REVEAL(unconfirmed_by, ProbeJudge, unconfirmed_);
BRINEGATE_REVEAL(noise_seen_by, ProbeJudge, noise_);
BRINEGATE_REVEAL(forecast_in, Dissolution, forecast_);
BRINEGATE_REVEAL(asked_on_last, PumpSupervision, asked_on_);
BRINEGATE_REVEAL(asked_so_since, PumpSupervision, asked_since_);
BRINEGATE_REVEAL(contrary_seen_since, PumpSupervision, contrary_since_);
BRINEGATE_REVEAL(level_watched, PumpSupervision, level_);
BRINEGATE_REVEAL(after_stop_of, Station, after_stop_);
BRINEGATE_REVEAL(flows_since_stop, AfterStop, flows_since_);
BRINEGATE_REVEAL(reference_after_stop, AfterStop, reference_);

namespace {

constexpr std::array blocking_alarms{
    AlarmId::PumpRunningWhileShut, AlarmId::PumpNotRunningWhileOpen, AlarmId::LevelFallingWhileShut,
    AlarmId::RunLimitPassed, AlarmId::FlowsOnAfterStop};

struct StationWorld {
  Station station;
  Known known;
  Instant now{MonoTime(100'000h), WallTime(Duration(1'790'000'000s))};
};

void put_time(std::string& key, const std::optional<MonoTime>& since, MonoTime now, int most) {
  put(key, since ? std::min<std::int64_t>((now - *since) / tick, most) : -1);
}

void put_litres(std::string& key, const std::optional<Litres>& litres) {
  put(key, litres ? std::lround(litres->value()) : -1);
}

double shown_psu(Shows shows) {
  return shows == Shows::TooLow ? low_psu : shows == Shows::TooHigh ? high_psu : right_psu;
}

class StationSystem {
 public:
  using State = StationWorld;

  explicit StationSystem(Kind kind) : spec_(small_station(kind)), alphabet_(alphabet_of(kind)) {}

  [[nodiscard]] StationWorld start() const { return {Station(spec_), Known{}}; }
  [[nodiscard]] std::size_t letters() const { return alphabet_.size(); }
  [[nodiscard]] std::string name(std::size_t letter) const { return alphabet_[letter].name; }

  std::string step(StationWorld& world, std::size_t number) const {
    const Letter& letter = alphabet_[number];
    Station& station = world.station;
    const Duration passes = letter.happens == Happens::LongPause ? long_pause : tick;
    world.now.mono += passes;
    world.now.wall += passes;
    if (letter.happens == Happens::Restart || letter.happens == Happens::RestartWithoutProfile)
      restart(station, letter, world.now);
    const bool was_open = station.gate().state() == GateState::Open;
    world.known.take(letter, spec_.pump->permit, was_open);
    foretell(station, letter);
    const StationOutcome outcome = station.step(inputs_of(world, letter), world.now);
    rest(world);
    return world.known.judge(letter, station, outcome);
  }

  [[nodiscard]] std::string key(const StationWorld& world) const {
    const Station& station = world.station;
    const MonoTime now = world.now.mono;
    std::string key;
    put_batch(key, station, now);
    put_probes(key, station, now);
    put_pump(key, station, now);
    world.known.put_into(key);
    return key;
  }

  // What people do once all is well: see to the alarms, use up no old batch, fill the reservoir,
  // begin, and ask for a change when it can be had.
  [[nodiscard]] std::optional<std::size_t> well(const StationWorld& world) const {
    const Station& station = world.station;
    const Batch& batch = station.batch();
    const bool is_full = world.known.litres >= full_litres;
    if (station.gate().state() == GateState::Open)
      return std::nullopt;
    for (const AlarmId id : blocking_alarms)
      if (const AlarmState state = station.alarms().state(id);
          state == AlarmState::Unacknowledged || state == AlarmState::ReturnedUnacknowledged)
        return letter_of("acknowledges");
    if (!batch.in_progress())
      return letter_of(is_full ? "begins a batch" : "level rises");
    if (batch.age > batch.profile.keep)
      return letter_of("abandons the batch");
    if (!is_full && !station.change() && !station.gate().permit())
      return letter_of("level rises");
    const bool asks = spec_.pump->permit == PermitMode::PerChange && !station.change() &&
                      station.gate().ready(spec_.pump->dwell, world.now.mono + tick);
    return letter_of(asks ? "asks for a change" : "all is well");
  }

 private:
  [[nodiscard]] std::size_t letter_of(const std::string& name) const {
    const auto found = std::find_if(alphabet_.begin(), alphabet_.end(),
                                    [&](const Letter& letter) { return letter.name == name; });
    return static_cast<std::size_t>(found - alphabet_.begin());
  }

  void restart(Station& station, const Letter& letter, Instant now) const {
    const StationMemory memory = station.memory(now);
    station = Station(spec_);
    station.restore(
        memory, letter.happens == Happens::Restart ? std::optional(small_profile()) : std::nullopt,
        now);
  }

  // In place of what the course so far makes one expect: whatever might be expected.
  static void foretell(Station& station, const Letter& letter) {
    Forecast forecast;
    forecast.known = letter.course != Course::Unknown;
    forecast.final = forecast.now = PracticalSalinity(shown_psu(letter.cell));
    forecast.settled_probability = letter.course == Course::Settled ? 1.0 : 0.0;
    forecast.course_agrees = true;
    if (letter.course == Course::Dissolves)
      forecast.remaining = 1.0;
    if (letter.course == Course::FollowsTemperature) {
      forecast.follows_temperature_probability = 1.0;
      forecast.per_celsius = 1.0;
    }
    station.*dissolution_in() =
        Dissolution(small_profile().slowest_part, small_profile().still_to_dissolve);
    (station.*dissolution_in()).*forecast_in() = forecast;
  }

  // Until the next tick: probes that do not scatter, a level at rest, and of what evaporated at
  // most one step of the level.
  static void rest(StationWorld& world) {
    Station& station = world.station;
    for (ProbeJudge& judge : station.*judges_of())
      judge.*noise_seen_by() = Noise{};
    auto& level = (station.*supervision_of()).*level_watched();
    if (level.smoothed && station.volume())
      level.smoothed = level.next_reference = station.volume();
    const Litres most(step_litres);
    const Litres litres(world.known.litres);
    Batch& batch = station.*batch_in();
    batch.evaporated = std::clamp(batch.evaporated, Litres(0.0), most);
    if (batch.unevaporated)
      batch.unevaporated = std::clamp(*batch.unevaporated, litres, litres + most);
  }

  // What each probe shows, if anything.
  static std::optional<double> shown_by(Measures measures, const Letter& letter, double litres,
                                        bool is_open) {
    const auto contact = [](Contact shows) {
      return shows == Contact::Nothing ? std::nullopt
                                       : std::optional(shows == Contact::On ? 1.0 : 0.0);
    };
    const bool runs =
        letter.readback == Readback::Follows ? is_open : letter.readback == Readback::On;
    const bool flows = letter.flow == FlowShows::Follows && is_open;
    switch (measures) {
      case Measures::Salinity:
        return letter.cell == Shows::Nothing ? std::nullopt : std::optional(shown_psu(letter.cell));
      case Measures::Temperature:
        return letter.bath == Shows::Nothing
                   ? std::nullopt
                   : std::optional(letter.bath == Shows::TooHigh ? 30.0 : 25.0);
      case Measures::Level:
        return letter.level == LevelShows::Nothing ? std::nullopt : std::optional(litres);
      case Measures::Flow:
        return letter.flow == FlowShows::Nothing
                   ? std::nullopt
                   : std::optional(flows ? flow_litres_per_minute : 0.0);
      case Measures::PumpRunning:
        return letter.readback == Readback::Nothing ? std::nullopt
                                                    : std::optional(runs ? 1.0 : 0.0);
      case Measures::Circulation:
        return contact(letter.circulation);
      case Measures::Leak:
        return contact(letter.leak);
      case Measures::TankHigh:
        return contact(letter.tank_high);
      default:
        return std::nullopt;
    }
  }

  [[nodiscard]] StationInputs inputs_of(const StationWorld& world, const Letter& letter) const {
    const Station& station = world.station;
    const bool is_open = station.gate().state() == GateState::Open;
    StationInputs inputs;
    for (std::size_t i = 0; i < spec_.probes.size(); ++i) {
      const Measures measures = spec_.probes[i].measures;
      const auto shown = shown_by(measures, letter, world.known.litres, is_open);
      if (!shown)
        continue;
      Sample sample;
      sample.value = *shown;
      sample.arrived = world.now.mono;
      const bool faulty = measures == Measures::Salinity && letter.cell == Shows::Fault;
      sample.fault = faulty ? SampleFault::Timeout : SampleFault::None;
      sample.simulated = measures == Measures::Temperature && letter.bath == Shows::Simulated;
      inputs.samples.push_back({i, sample});
    }
    inputs.record_kept = letter.record_kept;
    inputs.output_answers = letter.output_answers;
    if (letter.on_record == OnRecord::Foreign)
      inputs.permit_on_record = "mixer-1-p0";
    else if (letter.on_record == OnRecord::Current && station.gate().permit())
      inputs.permit_on_record = station.gate().permit()->id;
    inputs.ending = letter.happens == Happens::Ending;
    ask(inputs, letter.asks);
    return inputs;
  }

  static void ask(StationInputs& inputs, Asks asks) {
    BeginCommand begin;
    begin.batch = "mixer-1";
    begin.salts = {salt_of("H-2291")};
    begin.profile = small_profile();
    NoteCommand note;
    note.water = Litres(1.0);
    switch (asks) {
      case Asks::Nothing:
        break;
      case Asks::Change:
        inputs.commands.emplace_back(ChangeCommand{Litres(asked_litres)});
        break;
      case Asks::Stop:
        inputs.commands.emplace_back(StopCommand{});
        break;
      case Asks::Begin:
        inputs.commands.emplace_back(begin);
        break;
      case Asks::Note:
        inputs.commands.emplace_back(note);
        break;
      case Asks::Abandon:
        inputs.commands.emplace_back(AbandonCommand{});
        break;
      case Asks::Waive:
        inputs.commands.emplace_back(
            WaiveCommand{CheckId::TemperatureRight, "Ada", "in summer", waived_for * tick});
        break;
      case Asks::Unwaive:
        inputs.commands.emplace_back(UnwaiveCommand{CheckId::TemperatureRight});
        break;
      case Asks::Acknowledge:
        for (const AlarmId id : blocking_alarms)
          inputs.commands.emplace_back(AcknowledgeCommand{id});
        break;
    }
  }

  static void put_batch(std::string& key, const Station& station, MonoTime now) {
    const Batch& batch = station.batch();
    put(key, static_cast<int>(batch.phase));
    if (batch.in_progress()) {
      put(key, std::min<std::int64_t>(batch.circulated / tick, circulate));
      put(key, std::min<std::int64_t>(batch.standing / tick, standing + 1));
      put(key, batch.age > batch.profile.keep);
      put(key, batch.relied_on.profile.has_value());
      put(key, batch.drawn.value() > 0.0);
      put(key, batch.waivers.empty() ? 0 : (batch.waivers.front().until - now) / tick);
    }
    if (batch.proof) {
      put(key, std::lround(batch.proof->salinity.value()));
      put_litres(key, batch.lowest_volume);
      put_litres(key, batch.evaporated);
      put_litres(key, batch.unevaporated);
      const Settling& settling = station.*settling_of();
      put(key, settling.settled && settling.course_final
                   ? std::lround(settling.course_final->value.value())
                   : -1);
      put(key, settling.forecast.follows_temperature_probability > 0.5);
    }
    put(key, station.*water_moved());
    for (const auto& since :
         {station.*proof_checks_met_since(), station.*rejection_since(), station.*moved_since(),
          station.*doubted_since(), station.*rose_since(), station.*evaporated_since()})
      put_time(key, since, now, dwell);
    put_time(key, station.*drawn_at(), now, 1);
    put_time(key, station.*evenly_since(), now, 1);
    put(key, station.*evenly_since() ? std::lround((station.*evenly_from()).value()) : -1);
    put_time(key, station.*away_since(), now, 1);
  }

  static void put_probes(std::string& key, const Station& station, MonoTime now) {
    const ProbeJudge& judge = (station.*judges_of()).front();
    const Reading& accepted = judge.*accepted_by();
    put(key, accepted.shown_value() ? std::lround(*accepted.shown_value()) : -1);
    put(key, static_cast<int>(accepted.quality()));
    put_time(key, accepted.taken(), now, cell_deadline + 1);
    const auto& unconfirmed = judge.*unconfirmed_by();
    put(key, unconfirmed ? std::lround(*unconfirmed) : -1);
  }

  static void put_pump(std::string& key, const Station& station, MonoTime now) {
    const Gate& gate = station.gate();
    put(key, static_cast<int>(gate.state()));
    put(key, gate.permit().has_value());
    const auto left = gate.dwell_left(dwell * tick, now);
    put(key, left ? *left / tick : -1);
    put(key, station.change().has_value());
    if (station.change()) {
      put(key, station.change()->permit.empty());
      if (station.change()->run)
        put_run(key, *station.change()->run, now);
    }
    const auto& interrupted = station.*interrupted_change();
    put_litres(key, interrupted ? interrupted->start_volume : std::nullopt);
    put(key, interrupted.has_value());
    const auto& run = station.*run_while_proven_of();
    put(key, run.has_value());
    if (run)
      put_run(key, *run, now);
    const PumpSupervision& supervision = station.*supervision_of();
    put(key, supervision.*asked_on_last() ? static_cast<int>(*(supervision.*asked_on_last())) : -1);
    put_time(key, supervision.*asked_so_since(), now, 2 * readback_within);
    put_time(key, supervision.*contrary_seen_since(), now, readback_within);
    const auto& level = supervision.*level_watched();
    for (const auto& litres : {level.smoothed, level.reference, level.next_reference})
      put_litres(key, litres);
    if (level.smoothed)
      put_time(key, level.period_began, now, 1);
    put(key, supervision.falling_while_shut());
    // After a tick the level is no longer watched as soon after a stop. Hold-off and exchange have
    // explorations of their own.
    const AfterStop& after_stop = station.*after_stop_of();
    put_time(key, after_stop.*flows_since_stop(), now, 1);
    put_litres(key, after_stop.*reference_after_stop());
    put(key, after_stop.flows_on());
    for (const AlarmId id : blocking_alarms)
      put(key, static_cast<int>(station.alarms().state(id)));
  }

  StationSpec spec_;
  std::vector<Letter> alphabet_;
};

void explore_station(const char* what, Kind kind) {
  const StationSystem system(kind);
  const Exploration exploration(system, 150'000);
  exploration.print(what);
  EXPECT_EQ(exploration.violation(), "");
  EXPECT_LE(exploration.longest_way(), 15U);
  const auto merges = exploration.compare_merged();
  std::printf("%zu of %zu steps of states taken for one part\n", merges.apart, merges.compared);
  EXPECT_EQ(merges.apart, 0U) << merges.example;
}

TEST(StationExploration, ByLevel) {
  explore_station("station by level", Kind::ByLevel);
}

TEST(StationExploration, ByFlow) {
  explore_station("station by flow", Kind::ByFlow);
}

TEST(StationExploration, WhileProven) {
  explore_station("station while proven", Kind::WhileProven);
}

TEST(StationExploration, Waiving) {
  explore_station("station whose temperature may be waived", Kind::Waiving);
}

}  // namespace
}  // namespace brinegate::explore
