// SPDX-License-Identifier: Apache-2.0
#include "sim/faults/virtual_site.h"

#include <algorithm>

#include <fmt/format.h>

namespace brinegate::sim {
namespace {

using namespace std::chrono_literals;

struct Kind {
  const char* name;
  Measures measures;
};

Kind kind_of(Instrument instrument) {
  switch (instrument) {
    case Instrument::CellA:
      return {"cell_a", Measures::Conductivity};
    case Instrument::CellB:
      return {"cell_b", Measures::Conductivity};
    case Instrument::Bath:
      return {"bath", Measures::Temperature};
    case Instrument::Level:
      return {"height", Measures::Level};
    case Instrument::Flow:
      return {"flow", Measures::Flow};
    case Instrument::Circulation:
      return {"stirring", Measures::Circulation};
    case Instrument::ReadBack:
      return {"readback", Measures::PumpRunning};
    case Instrument::Leak:
      return {"floor", Measures::Leak};
  }
  return {"", Measures::Leak};
}

PumpSpec pump_spec(const StationTraits& station) {
  PumpSpec pump;
  pump.permit = station.permit;
  pump.lease = station.lease;
  pump.max_volume = station.capacity * 0.4;
  // Half as long again as the volume takes.
  pump.max_run = from_seconds(1.5 * 60.0 * pump.max_volume.value() / station.pump_flow.value());
  // Dissolving crystals, cooling and evaporation take up to a hundredth each.
  pump.unasked_loss = std::max(pump.unasked_loss, station.capacity * 0.03);
  pump.has_readback = station.has_readback;
  return pump;
}

}  // namespace

std::vector<Instrument> instruments_of(const StationTraits& station) {
  std::vector<Instrument> all{Instrument::CellA};
  if (station.cells == 2)
    all.push_back(Instrument::CellB);
  all.push_back(Instrument::Bath);
  if (station.has_level)
    all.push_back(Instrument::Level);
  if (station.has_flow)
    all.push_back(Instrument::Flow);
  all.push_back(Instrument::Circulation);
  if (station.has_readback)
    all.push_back(Instrument::ReadBack);
  all.push_back(Instrument::Leak);
  return all;
}

config::Site virtual_site(const StationTraits& station, int edits) {
  config::Site site;
  site.name = "cellar";
  site.profiles.emplace_back();
  site.profiles.front().name = "reef";
  config::Station one;
  one.profile = "reef";
  one.spec.name = station_name;
  one.spec.capacity = station.capacity;
  one.spec.low_level = station.capacity * 0.05;
  const auto instruments = instruments_of(station);
  const auto bath = static_cast<std::size_t>(
      std::find(instruments.begin(), instruments.end(), Instrument::Bath) - instruments.begin());
  for (const Instrument instrument : instruments) {
    const Kind kind = kind_of(instrument);
    ProbeSpec probe;
    probe.name = kind.name;
    probe.measures = kind.measures;
    probe.limits = default_sample_limits(kind.measures, station.capacity.value());
    probe.uncertainty = default_probe_uncertainty(kind.measures);
    probe.drift_per_day = default_probe_drift(kind.measures);
    if (is_salinity_cell(kind.measures))
      probe.temperature_from = bath;
    probe.map_entry = fmt::format("{} as it was wired {}", kind.name,
                                  instrument == Instrument::CellA ? edits : 0);
    one.spec.probes.push_back(std::move(probe));
  }
  one.sources.resize(one.spec.probes.size());
  one.spec.pump = pump_spec(station);
  config::Pump pump;
  pump.output.address = config::ModbusOutput{"rack", 2, 0, config::TimedOn{16}, false};
  if (station.has_second_cutoff)
    pump.second_cutoff = config::Output{config::ModbusOutput{"rack", 2, 2, std::nullopt, false}};
  one.pump = pump;
  site.stations.push_back(std::move(one));
  return site;
}

}  // namespace brinegate::sim
