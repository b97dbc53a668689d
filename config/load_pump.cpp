// SPDX-License-Identifier: Apache-2.0
// Section [station.NAME.pump]: the gated pump, its permit and its limits.
#include <algorithm>

#include <fmt/format.h>

#include "config/load_sections.h"
#include "config/quantity.h"

namespace brinegate::config {
namespace {

constexpr Word<PermitMode> permits[]{{"per change", PermitMode::PerChange},
                                     {"while proven", PermitMode::WhileProven}};

// Of the capacity: dissolving salt, cooling and evaporation move a large reservoir by litres
// (common practice, no source).
constexpr double default_loss_share = 0.02;

void read_limits(TableReader& reader, const StationSpec& station, PumpSpec& spec) {
  reader.read("lease", parse_duration, {"1 s", "60 s"}, spec.lease);
  reader.read("dwell", parse_duration, {"1 s", "1 h"}, spec.dwell);
  reader.read("max_run", parse_duration, {"1 s", "24 h"}, spec.max_run);
  reader.read("no_flow_after", parse_duration, {"1 s", "30 min"}, spec.no_flow_after);
  reader.read("readback_within", parse_duration, {"100 ms", "60 s"}, spec.readback_within);
  const Litres above_low = station.capacity - station.low_level;
  if (reader.read("max_volume", parse_volume, {"0.01 L", "100000 L"}, spec.max_volume) &&
      above_low > Litres(0.0) && spec.max_volume > above_low)
    reader.error("max_volume",
                 fmt::format("'max_volume' is more than the reservoir holds above its low level: "
                             "write {} or less",
                             show(above_low)));
  spec.unasked_loss = default_loss_share * station.capacity;
  if (reader.read("unasked_loss", parse_volume, {"0.01 L", "100000 L"}, spec.unasked_loss) &&
      station.capacity > Litres(0.0) && spec.unasked_loss >= station.capacity)
    reader.error("unasked_loss",
                 fmt::format("'unasked_loss' is the whole reservoir: no loss would ever be an "
                             "alarm; write less than {}",
                             show(station.capacity)));
}

// Asked for by a finger in passing, so never more than one change may draw.
void read_change_button(TableReader& reader, const PumpSpec& spec, Pump& pump) {
  Litres volume;
  if (spec.permit == PermitMode::WhileProven)
    reader.refuse("change_button", "this pump needs no change asked for");
  else if (reader.read("change_button", parse_volume, {"0.01 L", "100000 L"}, volume)) {
    pump.change_button = volume;
    if (spec.max_volume > Litres(0.0) && volume > spec.max_volume)
      reader.error("change_button",
                   fmt::format("'change_button' is more than one change may draw (max_volume): "
                               "write {} or less",
                               show(spec.max_volume)));
  }
}

}  // namespace

// What a device that counts down can be given.
void check_timed(TableReader& reader, std::string_view key, const Output& output, Duration lease) {
  const auto* modbus = std::get_if<ModbusOutput>(&output.address);
  if (!modbus || !modbus->timed)
    return;
  constexpr std::int64_t largest_count = 65535;
  const std::int64_t steps = lease / modbus->timed->step;
  if (steps < 1 || steps > largest_count)
    reader.error(key,
                 fmt::format("'{}': a lease of {} is {} steps of {}: write a 'step' that "
                             "makes it 1 to {}",
                             key, show(lease), steps, show(modbus->timed->step), largest_count));
}

void read_readback(TableReader& reader, const ReadbackProbe& as, PumpSpec& spec,
                   LoadedStation& loaded, Context& context) {
  const Node* node = reader.find("readback");
  if (!node) {
    reader.refuse("readback_within", "there is no 'readback' that could follow");
    return;
  }
  const Source source =
      read_source(*node, as.measures, false, reader.where() + ".readback", context);
  spec.has_readback = true;
  ProbeSpec probe;
  probe.name = as.name;
  probe.measures = as.measures;
  probe.conversion = source.conversion;
  probe.limits = default_sample_limits(probe.measures, loaded.station.spec.capacity.value());
  probe.uncertainty = default_probe_uncertainty(probe.measures);
  const Duration every = source.every.value_or(Duration{});
  probe.stale_after = std::max(probe.stale_after, 3 * every);
  probe.simulated = source.simulated;
  if (spec.readback_within < 2 * every)
    reader.error("readback",
                 fmt::format("'readback' is asked every {}, too seldom to follow within "
                             "'readback_within': write readback_within = \"{}\" or more",
                             show(every), show(2 * every)));
  loaded.station.spec.probes.push_back(std::move(probe));
  loaded.station.sources.push_back(source.address);
  loaded.places.probes.push_back(node->at);
}

void read_pump(const Node& node, LoadedStation& loaded, Context& context) {
  StationSpec& station = loaded.station.spec;
  TableReader reader(node, known::pump, fmt::format("station.{}.pump", station.name),
                     context.problems);
  Pump pump;
  PumpSpec spec;
  reader.read_word("permit", permits, spec.permit);
  read_limits(reader, station, spec);
  read_change_button(reader, spec, pump);
  if (const Node* output = reader.find("output")) {
    pump.output = read_output(*output, reader.where() + ".output", context);
    check_timed(reader, "output", pump.output, spec.lease);
  }
  if (const Node* cutoff = reader.find("second_cutoff")) {
    pump.second_cutoff = read_output(*cutoff, reader.where() + ".second_cutoff", context);
    check_timed(reader, "second_cutoff", *pump.second_cutoff, spec.lease);
  }
  read_readback(reader, {Measures::PumpRunning, "readback"}, spec, loaded, context);
  if (spec.permit == PermitMode::WhileProven && !spec.has_readback)
    reader.error("permit",
                 "a pump permitted \"while proven\" needs a 'readback': nothing else tells when a "
                 "run begins, and each run has its limits");
  spec.simulated = pump.output.simulated();
  loaded.places.pump = reader.at();
  loaded.places.output = reader.at("output");
  loaded.places.second_cutoff = reader.at("second_cutoff");
  station.pump = spec;
  loaded.station.pump = std::move(pump);
}

}  // namespace brinegate::config
