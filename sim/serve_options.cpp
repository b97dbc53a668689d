// SPDX-License-Identifier: Apache-2.0
// The command line of `serve`: one table of options, from which the help is made too.
#include <array>

#include <fmt/format.h>

#include "config/quantity.h"
#include "sim/options.h"
#include "sim/rig_commands.h"
#include "sim/serve.h"

namespace brinegate::sim {
namespace {

using Value = std::string_view;
using Set = Result<Done>;

template <class T>
Set take_within(T& place, const Result<T>& value, T low, T high) {
  if (value.ok() && (*value < low || *value > high))
    return Error{fmt::format("is out of range: from {} to {}", low.value(), high.value())};
  return take(place, value);
}

Set take_site(ServeOptions& options, Value value) {
  if (value.empty() || value.find_first_of("+#") != Value::npos)
    return Error{"is a topic's beginning: write a name without + and #, e.g. cellar"};
  options.site = value;
  return Done{};
}

constexpr std::array<Option<ServeOptions>, 11> serve_table{{
    {"--modbus-tcp", "ADDRESS", "Modbus TCP, e.g. 127.0.0.1:1502 (loopback only; port 0: any free)",
     [](ServeOptions& o, Value v) { return take(o.modbus_tcp, parse_name(v)); }},
    {"--modbus-rtu", "PATH", "Modbus RTU: symbolic link to a pseudo-terminal, 19200 baud",
     [](ServeOptions& o, Value v) { return take(o.modbus_rtu, parse_name(v)); }},
    {"--mqtt", "URI", "publish to this broker, e.g. mqtt://127.0.0.1:1883",
     [](ServeOptions& o, Value v) { return take(o.mqtt, parse_name(v)); }},
    {"--control", "PATH", "take commands on this Unix socket as well as on stdin",
     [](ServeOptions& o, Value v) { return take(o.control, parse_name(v)); }},
    {"--site", "NAME", "first part of the topics (cellar)", take_site},
    {"--speed", "N", "physics runs N times as fast as the clock, 0.1 to 10000 (1)",
     [](ServeOptions& o, Value v) {
       return take(o.rig.speed, parse_number<double>(v, 0.1, 10000.0));
     }},
    {"--volume", "VOLUME", "purified water to begin with (\"150 L\")",
     [](ServeOptions& o, Value v) {
       return take_within(o.rig.volume, config::parse_volume(v), Litres(0.0), Litres(8000.0));
     }},
    {"--temperature", "TEMPERATURE", "of that water (\"18 C\")",
     [](ServeOptions& o, Value v) {
       return take_within(o.rig.temperature, config::parse_temperature(v), Celsius(0.0),
                          Celsius(40.0));
     }},
    {"--pump-flow", "FLOW", "of the gated pump (\"4 L/min\")",
     [](ServeOptions& o, Value v) {
       return take_within(o.rig.reservoir.pump_flow, config::parse_flow(v), LitresPerMinute(0.0),
                          LitresPerMinute(1000.0));
     }},
    {"--bubbles", "N", "at each cell in an hour of the physics, 0 to 3600 (6)",
     [](ServeOptions& o, Value v) {
       return take(o.rig.bubbles_per_hour, parse_number<double>(v, 0.0, 3600.0));
     }},
    {"--seed", "S", "of the probes' errors and noise (1)",
     [](ServeOptions& o, Value v) {
       return take(o.rig.seed, parse_number<std::uint64_t>(v, 0, ~std::uint64_t{0}));
     }},
}};

constexpr std::string_view register_map = R"(
Without --modbus-tcp and --modbus-rtu the rig serves Modbus TCP on 127.0.0.1:1502.
--speed hastens water, heat, salt, pump and probes; the relay's timed-on stays in real time, so at
--speed 60 a pump of 4 L/min moves 4 L a second.

Register map (zero-based addresses, the same on TCP and RTU; other units stay silent):
  unit 1, transmitter
    input 0-1    conductivity of cell_a (in the current)   float32 ABCD, mS/cm, in situ
    input 2-3    temperature                               float32 ABCD, C
    input 4-5    conductivity of cell_b (in a dead corner) float32 ABCD, mS/cm, in situ
    input 6-7    cell_a compensated to 25 C, 2 %/C linear  float32 ABCD, mS/cm
    holding 4    level                                     int16, mm (litres = mm * 0.25)
  unit 2, relay board
    coil 0       gated pump, plain on and off
    coil 1       circulation pump (on at start)
    coil 2       second cut-off, in series with the gated pump (on at start)
    holding 16   timed-on of coil 0: on for this many steps of 100 ms, then off by itself;
                 0 is off; reads the steps left
    discrete 0   gated pump has power (read-back)
    discrete 1   circulation runs
    discrete 2   leak
    discrete 3   tank high
  unit 3, tank
    holding 0    its level                                 uint16, 0.1 L
    coil 0       its drain
    coil 1       holds its automatic top-off off
    holding 16   timed-on of coil 0, holding 17 of coil 1
    discrete 0   the drain has power (read-back)
    discrete 1   the top-off is held off
MQTT, four times a second:
  SITE/bath      {"temperature_c": 24.91, "time": "2026-11-25T13:05:40.123Z", "simulated": true}
  SITE/cell      {"conductivity_ms_cm": 53.07, ...}   (cell_a)

)";

}  // namespace

Result<ServeOptions> parse_serve_options(std::span<const std::string_view> words) {
  ServeOptions options;
  const auto taken = take_options("serve", serve_table, words, options);
  if (!taken.ok())
    return taken.error();
  if (!options.modbus_tcp && !options.modbus_rtu)
    options.modbus_tcp = "127.0.0.1:1502";
  return options;
}

std::string serve_help() {
  return "usage: brinegate-sim serve [OPTION VALUE]...\n" + options_help(serve_table) +
         std::string(register_map) + command_help();
}

}  // namespace brinegate::sim
