// SPDX-License-Identifier: Apache-2.0
#include "sim/faults/life_plan.h"

#include <algorithm>
#include <cmath>

#include "rules/probe.h"
#include "rules/salt_factor.h"
#include "sim/random.h"

namespace brinegate::sim {
namespace {

using namespace std::chrono_literals;

class Draw {
 public:
  explicit Draw(std::uint64_t seed) : random_(seed) {}

  double between(double low, double high) { return uniform(random_, low, high); }
  double across(double low, double high) {
    return std::exp(between(std::log(low), std::log(high)));
  }
  Duration across(Duration low, Duration high) {
    return from_seconds(across(seconds(low), seconds(high)));
  }
  bool chance(double probability) { return between(0.0, 1.0) < probability; }
  std::size_t below(std::size_t count) {
    return std::min(count - 1, static_cast<std::size_t>(between(0.0, static_cast<double>(count))));
  }
  double error(double standard_uncertainty) { return standard_uncertainty * between(-1.0, 1.0); }

 private:
  Random random_;
};

void draw_instruments(StationTraits& station, Draw& draw) {
  const ProbeUncertainty stated = default_probe_uncertainty(Measures::Conductivity);
  for (ProbeTraits& cell : station.cell_traits) {
    cell = conductivity_traits();
    cell.gain = 1.0 + 0.7 * draw.error(stated.relative);
    cell.offset = 0.7 * draw.error(stated.absolute);
    cell.lag = draw.across(3s, 20s);
    cell.noise = draw.across(0.0005, 0.005);
    cell.wander = 0.0002;
    cell.resolution = draw.chance(0.5) ? 0.01 : 0.001;
    cell.bubbles_per_hour = 0.0;  // those come as a fault
  }
  station.bath = temperature_traits();
  station.bath.offset = 0.7 * draw.error(default_probe_uncertainty(Measures::Temperature).absolute);
  const ProbeUncertainty level = default_probe_uncertainty(Measures::Level);
  station.level = level_traits();
  station.level.gain = 1.0 + draw.error(level.relative);
  station.level.offset = draw.error(level.absolute);
  station.level.noise = draw.across(0.05, 0.3);
  station.level.resolution = draw.chance(0.5) ? 0.1 : 0.5;
}

StationTraits draw_station(Draw& draw) {
  StationTraits station;
  station.capacity = Litres(draw.across(80.0, 500.0));
  const double way = draw.between(0.0, 1.0);
  station.has_level = way < 0.85;
  station.has_flow = way > 0.65;
  station.cells = draw.chance(0.5) ? 2 : 1;
  station.permit = draw.chance(0.25) ? PermitMode::WhileProven : PermitMode::PerChange;
  // "While proven" a run is seen by the read-back alone.
  station.has_readback = station.permit == PermitMode::WhileProven || draw.chance(0.8);
  station.has_second_cutoff = draw.chance(0.7);
  constexpr std::array leases{3s, 5s, 10s};
  station.lease = leases[draw.below(leases.size())];
  station.bath_by_broker = draw.chance(0.6);
  // A tenth of the reservoir takes two to five minutes.
  station.pump_flow = LitresPerMinute(station.capacity.value() * draw.between(0.02, 0.05));
  station.set_point = Celsius(draw.between(24.6, 25.4));
  station.dry_fraction = draw.between(0.88, 0.96);
  station.salt_factor = 1.0 + 0.5 * draw.between(-salt_factor_half_width, salt_factor_half_width);
  ReservoirSpec& water = station.reservoir;
  water.corner_share = draw.between(0.02, 0.06);
  water.corner_exchange = draw.across(20s, 90s);
  water.heater_time = draw.across(20min, 60min);
  water.room = Celsius(draw.between(17.0, 23.0));
  water.evaporation_grams_per_hour =
      station.capacity.value() * draw.between(0.002, 0.02);  // covered
  water.pump_flow = station.pump_flow;
  water.siphon_flow = station.pump_flow * draw.between(0.3, 0.8);
  draw_instruments(station, draw);
  return station;
}

// What is no state but an event has no length.
bool is_moment(FaultKind kind) {
  return is_of_process(kind) || kind == FaultKind::HostileRequests ||
         kind == FaultKind::SecretAddition || kind == FaultKind::WrongCalibration;
}

Duration draw_length(FaultKind kind, Draw& draw) {
  if (is_habit(kind))
    return 14 * 24h;
  if (is_moment(kind))  // how long the process is down
    return draw.across(1s, 2h);
  return draw.chance(0.6) ? draw.across(2s, 4min) : draw.across(4min, 8h);
}

PlannedFault draw_fault(FaultKind kind, Duration until, Draw& draw) {
  PlannedFault fault;
  fault.kind = kind;
  fault.at = from_seconds(draw.between(3600.0, seconds(until)));
  const double way = draw.between(0.0, 1.0);
  if (is_habit(kind))
    fault.at = from_seconds(draw.between(0.0, 0.5 * seconds(until)));
  else if (kind == FaultKind::RecordCorrupted)
    fault.strikes = Strikes::AtItsTime;
  else
    fault.strikes = way < 0.3   ? Strikes::AtItsTime
                    : way < 0.5 ? Strikes::ChangeAsked
                                : Strikes::GateOpens;
  if (fault.strikes != Strikes::AtItsTime && draw.chance(0.7))
    fault.after = draw.across(1s, 4min);
  fault.lasts = draw_length(kind, draw);
  fault.size = draw.between(0.0, 1.0);
  return fault;
}

}  // namespace

LifePlan draw_life(std::uint64_t seed) {
  Draw draw(seed);
  LifePlan plan;
  plan.seed = seed;
  plan.station = draw_station(draw);
  const double share = draw.between(0.05, 0.4);
  std::vector<FaultKind> kinds;
  for (std::size_t i = 0; i < fault_kinds; ++i) {
    plan.on[i] = draw.chance(share);
    if (plan.on[i])
      kinds.push_back(static_cast<FaultKind>(i));
  }
  const double weeks = draw.between(1.0, 6.0);
  plan.faults_last = from_seconds(weeks * 7 * 86400.0);
  const auto count = static_cast<std::size_t>(weeks * draw.across(2.0, 10.0));
  for (std::size_t i = 0; i < count && !kinds.empty(); ++i)
    plan.faults.push_back(draw_fault(kinds[draw.below(kinds.size())], plan.faults_last, draw));
  std::sort(plan.faults.begin(), plan.faults.end(),
            [](const PlannedFault& a, const PlannedFault& b) { return a.at < b.at; });
  return plan;
}

}  // namespace brinegate::sim
