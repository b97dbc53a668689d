// SPDX-License-Identifier: Apache-2.0
// Sections [station.NAME.hold_off] and [station.NAME.drain]: what else on the tank is driven while
// water is changed.
#include <algorithm>

#include <fmt/format.h>

#include "config/load_sections.h"
#include "config/quantity.h"

namespace brinegate::config {
namespace {

// Of the reservoir's capacity: two levels are compared, each with its own scale (common practice,
// no source).
constexpr double default_tolerance_share = 0.02;

bool measured_by_any(const LoadedStation& loaded, std::initializer_list<Measures> wanted) {
  const auto& probes = loaded.station.spec.probes;
  return std::any_of(probes.begin(), probes.end(), [&](const ProbeSpec& probe) {
    return std::find(wanted.begin(), wanted.end(), probe.measures) != wanted.end();
  });
}

// What stands beside the pump has the pump's own permit: without one it cannot be.
bool has_pump(const TableReader& reader, const LoadedStation& loaded, Context& context) {
  if (loaded.station.pump)
    return true;
  context.problems.error(reader.at(), fmt::format("{} without a pump: nothing is changed here; add "
                                                  "[station.{}.pump]",
                                                  reader.where(), loaded.station.spec.name));
  return false;
}

}  // namespace

void read_hold_off(const Node& node, bool probes_read, LoadedStation& loaded, Context& context) {
  StationSpec& station = loaded.station.spec;
  TableReader reader(node, known::hold_off, fmt::format("station.{}.hold_off", station.name),
                     context.problems);
  HoldOffSpec spec;
  reader.read("lease", parse_duration, {"1 s", "10 min"}, spec.lease);
  reader.read("confirm_within", parse_duration, {"1 s", "10 min"}, spec.confirm_within);
  reader.read("rest", parse_duration, {"1 s", "1 h"}, spec.rest);
  Output output;
  if (const Node* written = reader.find("output")) {
    output = read_output(*written, reader.where() + ".output", context);
    check_timed(reader, "output", output, spec.lease);
  }
  if (probes_read && !measured_by_any(loaded, {Measures::HeldOff}))
    context.problems.error(reader.at(),
                           "a hold-off without confirmation is none: add a probe that measures "
                           "held-off, a contact of the top-off that tells that it is held");
  if (!has_pump(reader, loaded, context))
    return;
  loaded.places.hold_off = reader.at("output");
  station.hold_off = spec;
  loaded.station.hold_off = std::move(output);
}

void read_drain(const Node& node, bool probes_read, LoadedStation& loaded, Context& context) {
  StationSpec& station = loaded.station.spec;
  TableReader reader(node, known::drain, fmt::format("station.{}.drain", station.name),
                     context.problems);
  DrainSpec spec;
  Output output;
  const Duration lease = station.pump.value_or(PumpSpec{}).lease;
  if (const Node* written = reader.find("output")) {
    output = read_output(*written, reader.where() + ".output", context);
    check_timed(reader, "output", output, lease);
  }
  reader.read("max_run", parse_duration, {"1 s", "24 h"}, spec.pump.max_run);
  reader.read("no_flow_after", parse_duration, {"1 s", "30 min"}, spec.pump.no_flow_after);
  reader.read("readback_within", parse_duration, {"100 ms", "60 s"}, spec.pump.readback_within);
  spec.tolerance = default_tolerance_share * station.capacity;
  reader.read("tolerance", parse_volume, {"0.01 L", "100000 L"}, spec.tolerance);
  if (reader.read("portion", parse_volume, {"0.01 L", "100000 L"}, spec.portion) &&
      spec.portion <= spec.tolerance)
    reader.error("portion", fmt::format("'portion' is within the tolerance of {}: no portion that "
                                        "went astray would be noticed; write more, or a smaller "
                                        "'tolerance'",
                                        show(spec.tolerance)));
  read_readback(reader, {Measures::DrainRunning, "drain_readback"}, spec.pump, loaded, context);
  if (probes_read && !measured_by_any(loaded, {Measures::TankLevel, Measures::DrainFlow}))
    context.problems.error(reader.at(),
                           "nothing tells how much is drained: add a probe that measures "
                           "tank-level or drain-flow");
  if (probes_read && !measured_by_any(loaded, {Measures::Level}))
    context.problems.error(reader.at(),
                           "nothing tells that what is to be returned is there: add a probe that "
                           "measures level");
  if (!has_pump(reader, loaded, context))
    return;
  if (station.pump->permit == PermitMode::WhileProven)
    context.problems.error(reader.at(),
                           "a drain belongs to a change that is asked for: it needs permit = "
                           "\"per change\" of the pump");
  // As soon after a stop (rules/after_stop.h) as the two volumes would part by the tolerance.
  spec.pump.unasked_loss = 2.0 * spec.tolerance;
  spec.pump.lease = lease;
  spec.pump.simulated = output.simulated();
  loaded.places.drain = reader.at("output");
  station.drain = spec;
  loaded.station.drain = std::move(output);
}

}  // namespace brinegate::config
