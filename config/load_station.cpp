// SPDX-License-Identifier: Apache-2.0
// Section [station.NAME], and what must hold between its parts.
#include <algorithm>

#include <fmt/format.h>

#include "config/load_sections.h"
#include "config/measured.h"
#include "config/nearest.h"
#include "config/quantity.h"

namespace brinegate::config {
namespace {

constexpr double default_low_share = 0.05;  // of the capacity; common practice, no source

void read_reservoir(TableReader& reader, Context& context, Station& station) {
  StationSpec& spec = station.spec;
  if (reader.read("profile", station.profile) &&
      std::find(context.profile_names.begin(), context.profile_names.end(), station.profile) ==
          context.profile_names.end())
    reader.error("profile", fmt::format("there is no [profile.{}]: {}", station.profile,
                                        suggestion(station.profile, context.profile_names)));
  reader.read("tank", station.tank);
  reader.read("capacity", parse_volume, {"0.1 L", "100000 L"}, spec.capacity);
  spec.low_level = default_low_share * spec.capacity;
  if (reader.read("low_level", parse_volume, {"0 L", "100000 L"}, spec.low_level) &&
      spec.capacity > Litres(0.0) && spec.low_level >= spec.capacity)
    reader.error("low_level",
                 fmt::format("'low_level' is not below the capacity: write less than {}",
                             show(spec.capacity)));
}

// The index of the temperature probe of each cell. Names that could not be read as a probe are
// known all the same: their own error was reported.
void resolve_temperatures(std::vector<LoadedProbe>& probes, const std::vector<std::string>& names,
                          Problems& problems) {
  std::vector<std::string> thermometers;
  for (const LoadedProbe& probe : probes)
    if (probe.spec.measures == Measures::Temperature)
      thermometers.push_back(probe.spec.name);
  for (LoadedProbe& cell : probes) {
    if (cell.temperature_from.empty())
      continue;
    const auto found = std::find_if(probes.begin(), probes.end(), [&](const LoadedProbe& probe) {
      return probe.spec.name == cell.temperature_from;
    });
    if (found == probes.end()) {
      if (std::find(names.begin(), names.end(), cell.temperature_from) == names.end())
        problems.error(
            cell.temperature_from_at,
            fmt::format("'temperature_from' names no probe of this station: '{}'; {}",
                        cell.temperature_from, suggestion(cell.temperature_from, thermometers)));
      continue;
    }
    if (found->spec.measures != Measures::Temperature)
      problems.error(cell.temperature_from_at,
                     fmt::format("'temperature_from' names '{}', which measures {}: name a probe "
                                 "that measures temperature; {}",
                                 cell.temperature_from, word_for(found->spec.measures),
                                 suggestion(cell.temperature_from, thermometers)));
    cell.spec.temperature_from = static_cast<std::size_t>(found - probes.begin());
  }
}

void read_probes(const Node& node, LoadedStation& loaded, Context& context) {
  StationSpec& spec = loaded.station.spec;
  const auto* table = std::get_if<Table>(&node.value);
  if (!table) {
    context.problems.error(
        node.at, fmt::format("'probe' is {}: expected tables, such as [station.{}.probe.NAME]",
                             kind_of(node), spec.name));
    return;
  }
  std::vector<LoadedProbe> probes;
  std::vector<std::string> names;
  for (const Member& member : *table) {
    names.push_back(member.key);
    if (check_name(member.key, "probe", member.at, context.problems) &&
        (member.key == "readback" || member.key == "drain_readback"))
      context.problems.error(member.at,
                             fmt::format("'{}' is the name of a pump's own read-back: choose "
                                         "another, or write it as 'readback' of the pump",
                                         member.key));
    if (auto probe = read_probe(member.key, member.node, spec.name, spec.capacity, context))
      probes.push_back(std::move(*probe));
  }
  resolve_temperatures(probes, names, context.problems);
  const bool all_read = probes.size() == names.size();
  if (all_read && std::none_of(probes.begin(), probes.end(), [](const LoadedProbe& probe) {
        return is_salinity_cell(probe.spec.measures);
      }))
    context.problems.error(loaded.places.station,
                           fmt::format("station.{} has no probe that tells the salinity: add one "
                                       "that measures conductivity, compensated-conductivity, "
                                       "salinity or specific-gravity",
                                       spec.name));
  for (LoadedProbe& probe : probes) {
    spec.probes.push_back(std::move(probe.spec));
    loaded.station.sources.push_back(std::move(probe.source));
    loaded.places.probes.push_back(probe.at);
  }
}

void check_change_can_end(const LoadedStation& loaded, Context& context) {
  const auto& probes = loaded.station.spec.probes;
  if (std::none_of(probes.begin(), probes.end(), [](const ProbeSpec& probe) {
        return probe.measures == Measures::Level || probe.measures == Measures::Flow;
      }))
    context.problems.error(loaded.places.pump,
                           fmt::format("station.{} has a pump but no probe that measures level or "
                                       "flow: nothing could end a change at its volume; add one",
                                       loaded.station.spec.name));
}

}  // namespace

LoadedStation read_station(const std::string& name, const Node& node, Context& context) {
  TableReader reader(node, known::station, "station." + name, context.problems);
  LoadedStation loaded;
  loaded.station.spec.name = name;
  loaded.places.station = reader.at();
  read_reservoir(reader, context, loaded.station);
  const Node* probes = reader.find("probe");
  if (probes)
    read_probes(*probes, loaded, context);
  const bool all_read = probes && std::holds_alternative<Table>(probes->value) &&
                        loaded.station.spec.probes.size() == std::get<Table>(probes->value).size();
  if (const Node* pump = reader.find("pump")) {
    read_pump(*pump, loaded, context);
    if (all_read)
      check_change_can_end(loaded, context);
  }
  if (const Node* hold_off = reader.find("hold_off"))
    read_hold_off(*hold_off, all_read, loaded, context);
  if (const Node* drain = reader.find("drain"))
    read_drain(*drain, all_read, loaded, context);
  note_map_entries(loaded.station, context.links);
  return loaded;
}

}  // namespace brinegate::config
