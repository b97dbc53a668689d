// SPDX-License-Identifier: Apache-2.0
// What a person answered at a first start, as it was written, and the configuration that comes of
// it. Pure. Nothing is judged here: the loader of the configuration judges.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "config/load.h"
#include "rules/probe.h"

namespace brinegate::daemon {

struct SetupLine {
  std::string address;
  bool simulated = false;
};

struct SetupBroker {
  std::string address;
  std::string username;       // empty: none
  std::string password_file;  // empty: none
  std::string ca_file;        // empty: whom this computer trusts
};

struct SetupProbe {
  std::string name;
  Measures measures = Measures::Conductivity;
  std::string source;       // the inline table
  std::string alpha;        // of a compensated conductivity
  std::string table;        // of a height: "0 0, 80 200"; empty: none
  std::string stale_after;  // empty: as usual
};

struct SetupPump {
  bool on_broker = false;
  std::string unit = "2";       // of a relay on the line
  std::string coil = "0";       // likewise
  std::string timed;            // holding register of the relay's timed "on"; empty: none
  std::string step = "100 ms";  // of that register
  std::string readback;         // discrete input that says that the pump has power; empty: none
  std::string topic = "cellar/pump/set";  // on the broker
  std::string on = "on {seconds}";
  std::string off = "off";
  std::string max_volume = "0.01 L";  // fits any reservoir
  std::string max_run = "15 min";
};

// Each default is valid, so that one answer at a time can be judged.
struct SetupAnswers {
  std::string site = "home";
  std::string data = "/var/lib/brinegate";
  std::string http;  // address to listen on; empty: no dashboard
  std::optional<SetupLine> line;
  std::optional<SetupBroker> broker;
  std::string station = "mixer";
  std::string capacity = "200 L";
  std::string salinity = "35 ppt";
  std::string tolerance = "1 ppt";
  std::string coldest = "24 C";
  std::string warmest = "26 C";
  std::vector<SetupProbe> probes;  // the temperature is called "bath"
  std::optional<SetupPump> pump;
};

inline constexpr std::string_view setup_line_name = "line";
inline constexpr std::string_view setup_thermometer = "bath";

std::string toml_of(const SetupAnswers& answers);

// What the loader makes of them, were `file` to hold them. While no probe tells the salinity yet, a
// stand-in follows the others, because there is no station without.
config::Loaded loaded_from(SetupAnswers answers, const std::string& file);
// The first thing that it has against them; empty where they are valid.
std::string objection_to(const SetupAnswers& answers, const std::string& file);

}  // namespace brinegate::daemon
