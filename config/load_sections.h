// SPDX-License-Identifier: Apache-2.0
// The loader's parts, one a section of the file, and what they share. Each returns what could be
// read even where it reported errors, so that one slip does not bring a train of others.
#pragma once

#include <cstdint>
#include <filesystem>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "config/document.h"
#include "config/model.h"
#include "config/notify.h"
#include "config/problem.h"
#include "config/table_reader.h"

namespace brinegate::config {

// A run of registers, or one coil, that somebody reads or writes.
struct RegisterUse {
  std::string user;
  std::string link;
  std::int64_t unit = 0;
  ModbusTable table = ModbusTable::Coil;
  std::int64_t first = 0;
  std::int64_t count = 1;

  [[nodiscard]] bool overlaps(const RegisterUse& other) const;
};

// One of several forms of a table, told by the key that only this form has.
struct Kind {
  std::string_view key;
  std::string_view title;
  const Section& section;
};

// Where the parts of a station stand in the file, for the hazards.
struct StationPlaces {
  Position station;
  Position pump;
  Position output;
  Position second_cutoff;
  Position hold_off;
  Position drain;
  std::vector<Position> probes;  // in the order of the spec's probes
};

// What the sections read so far know of each other.
struct Context {
  explicit Context(const std::string& file_name)
      : problems(file_name), folder(std::filesystem::path(file_name).parent_path()) {}

  Problems problems;
  std::filesystem::path folder;    // of the configuration file
  std::vector<std::string> files;  // named in it, of passwords and the like
  bool has_mqtt = false;
  std::vector<Link> links;
  std::vector<std::string> link_names;     // also of links that could not be read
  std::vector<std::string> profile_names;  // likewise
  std::vector<RegisterUse> read;
  std::vector<RegisterUse> written;
  std::vector<std::string> values_read;  // on MQTT and from child processes
  std::vector<std::string> topics_written;
};

struct Source {
  SourceAddress address;
  Conversion conversion;
  std::optional<Duration> every;  // Modbus: how often it is asked
  bool simulated = false;
};

struct LoadedStation {
  Station station;
  StationPlaces places;
};

// load.cpp: a relative path counts from the configuration's folder.
void read_file_name(TableReader& reader, std::string_view key, std::string& file, Context& context);

// load_http.cpp
Http read_http(const Node& node, Context& context);

// load_history.cpp
History read_history(const Node& node, Problems& problems);

// load_notify.cpp
NotifyTarget read_notify(const std::string& name, const Node& node, Context& context);
Heartbeat read_heartbeat(const Node& node, Context& context);

// load_link.cpp
Mqtt read_mqtt(const Node& node, Context& context);
Link read_link(const std::string& name, const Node& node, Context& context);
// The link named by the reader's table, or none after reporting.
const Link* find_link(TableReader& reader, Context& context);
bool read_topic(TableReader& reader, Context& context, std::string& topic);

// load_profile.cpp
Profile read_profile(const std::string& name, const Node& node, Problems& problems);

// load_contents.cpp: a table of contents by analyte, each ["7 dKH", "9 dKH"] or { to = "5 ug/L" },
// in water of this salinity and 25 °C.
std::map<Analyte, ContentRange> read_content_ranges(const Node& node, const std::string& where,
                                                    PracticalSalinity salinity, Problems& problems);

// load_source.cpp
// `table_follows`: the probe has a strapping table, so the raw number is a height.
Source read_source(const Node& node, Measures measures, bool table_follows,
                   const std::string& where, Context& context);
bool read_unit(TableReader& reader, std::uint8_t& unit);
// None after reporting that the table is of no kind, or of several.
const Kind* kind_of_table(const Node& node, std::span<const Kind> kinds, std::string_view where,
                          Problems& problems);

// load_output.cpp
Output read_output(const Node& node, const std::string& where, Context& context);

// map_entry.cpp: gives every probe the line that says what its numbers mean.
void note_map_entries(Station& station, const std::vector<Link>& links);

// load_probe.cpp
struct LoadedProbe {
  ProbeSpec spec;
  SourceAddress source;
  std::string temperature_from;
  Position at;
  Position temperature_from_at;
};
// None: not even what it measures can be told.
std::optional<LoadedProbe> read_probe(const std::string& name, const Node& node,
                                      const std::string& station, Litres capacity,
                                      Context& context);

// load_pump.cpp
struct ReadbackProbe {
  Measures measures;
  std::string name;
};
// Adds it to the station's probes.
void read_readback(TableReader& reader, const ReadbackProbe& as, PumpSpec& spec,
                   LoadedStation& loaded, Context& context);
// What a device that counts down can be given.
void check_timed(TableReader& reader, std::string_view key, const Output& output, Duration lease);
void read_pump(const Node& node, LoadedStation& loaded, Context& context);

// load_tank.cpp, after the pump. `probes_read`: all probes could be read.
void read_hold_off(const Node& node, bool probes_read, LoadedStation& loaded, Context& context);
void read_drain(const Node& node, bool probes_read, LoadedStation& loaded, Context& context);

// load_station.cpp
LoadedStation read_station(const std::string& name, const Node& node, Context& context);

// hazards.cpp
// An error where it is open to others, a hazard where it is not there yet; `what`: "password file".
void report_secret_file(std::string_view what, const std::string& file, Position at,
                        Problems& problems);
void report_hazards(const Site& site, const std::vector<StationPlaces>& places, Position mqtt,
                    Problems& problems);

}  // namespace brinegate::config
