// SPDX-License-Identifier: Apache-2.0
#include "tests/explore/small_station.h"

#include <algorithm>

namespace brinegate::explore {
namespace {

// One thing that differs. Those of one sort exclude each other, and what passes leaves nothing
// behind but that the wait begins afresh.
struct Difference {
  const char* name;
  enum Sort { Passing, Cell, Contact, Pump, Level, Disk, Person, Fate } sort;
  void (*make)(Letter& letter);
};

using D = Difference;
using C = brinegate::explore::Contact;

const std::vector<Difference> of_every_station{
    {"cell faulty", D::Passing, [](Letter& l) { l.cell = Shows::Fault; }},
    {"cell silent", D::Cell, [](Letter& l) { l.cell = Shows::Nothing; }},
    {"bath too warm", D::Passing, [](Letter& l) { l.bath = Shows::TooHigh; }},
    {"bath simulated", D::Passing, [](Letter& l) { l.bath = Shows::Simulated; }},
    {"bath silent", D::Passing, [](Letter& l) { l.bath = Shows::Nothing; }},
    {"salt dissolves", D::Passing, [](Letter& l) { l.course = Course::Dissolves; }},
    {"no forecast", D::Passing, [](Letter& l) { l.course = Course::Unknown; }},
    {"salinity follows the temperature", D::Passing,
     [](Letter& l) { l.course = Course::FollowsTemperature; }},
    {"disk refuses", D::Passing, [](Letter& l) { l.record_kept = false; }},
    {"disk is late", D::Disk, [](Letter& l) { l.on_record = OnRecord::None; }},
    {"disk has another permit", D::Disk, [](Letter& l) { l.on_record = OnRecord::Foreign; }},
    {"output does not answer", D::Passing, [](Letter& l) { l.output_answers = false; }},
    {"begins a batch", D::Person, [](Letter& l) { l.asks = Asks::Begin; }},
    {"notes water", D::Person, [](Letter& l) { l.asks = Asks::Note; }},
    {"abandons the batch", D::Person, [](Letter& l) { l.asks = Asks::Abandon; }},
    {"acknowledges", D::Person, [](Letter& l) { l.asks = Asks::Acknowledge; }},
    {"ends", D::Fate, [](Letter& l) { l.happens = Happens::Ending; }},
    {"restarts", D::Fate, [](Letter& l) { l.happens = Happens::Restart; }},
};
const Difference without_profile{"restarts without the profile", D::Fate,
                                 [](Letter& l) { l.happens = Happens::RestartWithoutProfile; }};
const Difference long_wait{"long pause", D::Fate,
                           [](Letter& l) { l.happens = Happens::LongPause; }};
const Difference cell_low{"cell too low", D::Cell, [](Letter& l) { l.cell = Shows::TooLow; }};
const Difference cell_high{"cell too high", D::Cell, [](Letter& l) { l.cell = Shows::TooHigh; }};

const std::vector<Difference> of_changes{
    {"asks for a change", D::Person, [](Letter& l) { l.asks = Asks::Change; }},
    {"stops", D::Person, [](Letter& l) { l.asks = Asks::Stop; }},
};
const std::vector<Difference> of_readback{
    {"read-back on", D::Pump, [](Letter& l) { l.readback = Readback::On; }},
    {"read-back off", D::Pump, [](Letter& l) { l.readback = Readback::Off; }},
    {"read-back silent", D::Pump, [](Letter& l) { l.readback = Readback::Nothing; }},
};
const std::vector<Difference> of_level{
    {"level falls", D::Level, [](Letter& l) { l.level = LevelShows::Falls; }},
    {"level rises", D::Level, [](Letter& l) { l.level = LevelShows::Rises; }},
    {"level silent", D::Level, [](Letter& l) { l.level = LevelShows::Nothing; }},
};
const std::vector<Difference> of_circulation{
    {"stands still", D::Contact, [](Letter& l) { l.circulation = C::Off; }},
    {"circulation silent", D::Contact, [](Letter& l) { l.circulation = C::Nothing; }},
};
const std::vector<Difference> of_flow{
    {"no flow", D::Level, [](Letter& l) { l.flow = FlowShows::None; }},
    {"flow silent", D::Level, [](Letter& l) { l.flow = FlowShows::Nothing; }},
};
const std::vector<Difference> of_floor_and_tank{
    {"leaks", D::Contact, [](Letter& l) { l.leak = C::On; }},
    {"leak silent", D::Contact, [](Letter& l) { l.leak = C::Nothing; }},
    {"tank full", D::Contact, [](Letter& l) { l.tank_high = C::On; }},
    {"tank contact silent", D::Contact, [](Letter& l) { l.tank_high = C::Nothing; }},
};

const std::vector<Difference> of_waivers{
    {"waives", D::Person, [](Letter& l) { l.asks = Asks::Waive; }},
    {"takes the waiver back", D::Person, [](Letter& l) { l.asks = Asks::Unwaive; }},
    {"flow silent", D::Level, [](Letter& l) { l.flow = FlowShows::Nothing; }},
};

std::vector<Difference> differences_of(Kind kind) {
  std::vector<Difference> differences = of_every_station;
  const auto add = [&](const std::vector<Difference>& more) {
    differences.insert(differences.end(), more.begin(), more.end());
  };
  if (kind == Kind::Waiving) {
    add(of_changes);
    add(of_waivers);
    return differences;
  }
  // Each of these doubles the states, so each kind of station has its own.
  if (kind == Kind::ByLevel)
    add({cell_low});
  else if (kind == Kind::ByFlow)
    add({cell_high, long_wait});
  else
    add({cell_low, without_profile});
  if (kind != Kind::WhileProven)
    add(of_changes);
  for (const auto& more : kind == Kind::ByLevel ? std::vector{of_level, of_circulation}
                                                : std::vector{of_flow, of_readback})
    add(more);
  if (kind == Kind::ByFlow)
    add(of_floor_and_tank);
  return differences;
}

bool may_meet(const Difference& a, const Difference& b) {
  const auto [less, more] = std::minmax(a.sort, b.sort);
  return less != more && less >= D::Cell && more >= D::Person;
}

}  // namespace

std::vector<Letter> alphabet_of(Kind kind) {
  const std::vector<Difference> differences = differences_of(kind);
  std::vector<Letter> alphabet(1);
  for (std::size_t i = 0; i < differences.size(); ++i) {
    Letter one;
    differences[i].make(one);
    one.name = differences[i].name;
    alphabet.push_back(one);
    for (std::size_t j = 0; j < i; ++j) {
      if (!may_meet(differences[i], differences[j]))
        continue;
      Letter two = one;
      differences[j].make(two);
      two.name += std::string(" and ") + differences[j].name;
      alphabet.push_back(two);
    }
  }
  return alphabet;
}

StationSpec small_station(Kind kind) {
  StationSpec spec;
  spec.name = "mixer";
  spec.capacity = Litres(120.0);
  spec.low_level = Litres(low_litres);
  const auto add = [&spec](const char* name, Measures measures) {
    ProbeSpec probe;
    probe.name = name;
    probe.measures = measures;
    probe.limits = default_sample_limits(measures, spec.capacity.value());
    probe.uncertainty = default_probe_uncertainty(measures);
    probe.limits.air_below.reset();
    probe.limits.flat_line_after.reset();
    if (measures != Measures::Salinity)
      probe.limits.spike.reset();
    probe.stale_after = measures == Measures::Salinity ? cell_deadline * tick : tick / 2;
    spec.probes.push_back(probe);
  };
  add("cell", Measures::Salinity);
  add("bath", Measures::Temperature);
  if (kind == Kind::ByLevel) {
    add("height", Measures::Level);
    add("circulation", Measures::Circulation);
  } else {
    add("flow", Measures::Flow);
  }
  if (kind == Kind::ByFlow || kind == Kind::WhileProven)
    add("readback", Measures::PumpRunning);
  if (kind == Kind::ByFlow) {
    add("floor", Measures::Leak);
    add("tank", Measures::TankHigh);
  }
  PumpSpec pump;
  pump.permit = kind == Kind::WhileProven ? PermitMode::WhileProven : PermitMode::PerChange;
  pump.dwell = dwell * tick;
  pump.max_volume = Litres(2.0 * step_litres);
  pump.max_run = longest_run * tick;
  pump.no_flow_after = no_flow * tick;
  pump.readback_within = readback_within * tick;
  pump.has_readback = kind == Kind::ByFlow || kind == Kind::WhileProven;
  spec.pump = pump;
  return spec;
}

Profile small_profile() {
  Profile profile;
  profile.name = "reef";
  profile.target = PracticalSalinity(right_psu);
  profile.tolerance = PracticalSalinity(2.0);
  profile.circulate = circulate * tick;
  profile.standing = standing * tick;
  profile.keep = keep;
  profile.waivable = {CheckId::TemperatureRight};
  profile.slowest_part = 1min;  // the thermometer's trend comes to rest between two ticks
  return profile;
}

}  // namespace brinegate::explore
