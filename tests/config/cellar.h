// SPDX-License-Identifier: Apache-2.0
// A small valid configuration of an invented site, and ways to spoil it.
#pragma once

#include <filesystem>
#include <fstream>
#include <sstream>
#include <stdexcept>
#include <string>
#include <string_view>
#include <utility>

#include "config/problem.h"

namespace brinegate::config {

inline constexpr std::string_view cellar = R"(site = "cellar"
data = "record"

[mqtt]
broker = "mqtt://hub.example"

[link.rack]
address = "modbus-tcp://192.0.2.10:1502"
timeout = "300 ms"

[link.bus]
address = "modbus-rtu:///dev/ttyUSB0?baud=9600&parity=none"

[profile.reef]
salinity = "35 ppt"
tolerance = "1 ppt"
temperature = ["24 C", "26 C"]
circulate = "45 min"

[station.mixer]
profile = "reef"
capacity = "200 L"
low_level = "20 L"

[station.mixer.probe.zz_cell]
measures = "conductivity"
source = { link = "rack", unit = 1, input = 10, as = "float32", order = "CDAB", in = "uS/cm" }
temperature_from = "bath"

[station.mixer.probe.bath]
measures = "temperature"
source = { topic = "cellar/bath", pointer = "/celsius", time = "/time", in = "F" }
stale_after = "30 s"

[station.mixer.probe.height]
measures = "level"
source = { link = "rack", unit = 1, holding = 4, as = "int16", scale = 0.1, in = "cm", every = "2 s" }
table = [[0, 0], [10, 22.4], [80, 200]]

[station.mixer.probe.floor]
measures = "leak"
source = { link = "rack", unit = 2, discrete = 2, closed_means = "dry" }

[station.mixer.pump]
output = { link = "rack", unit = 2, coil = 0, timed = { holding = 16, step = "100 ms" } }
second_cutoff = { topic = "cellar/socket/set", on = "on {seconds}", off = "off" }
readback = { link = "rack", unit = 2, discrete = 0 }
max_volume = "60 L"
max_run = "15 min"
)";

// `text` with the one place where `from` stands replaced.
inline std::string with(std::string_view text, std::string_view from, std::string_view to) {
  std::string changed(text);
  const std::size_t at = changed.find(from);
  if (at == std::string::npos || changed.find(from, at + 1) != std::string::npos)
    throw std::logic_error("not exactly once in the text: " + std::string(from));
  return changed.replace(at, from.size(), to);
}

// Where a piece stands in a text, counted here and not by the parser.
inline Position position_of(std::string_view text, std::string_view piece) {
  const std::size_t at = text.find(piece);
  if (at == std::string_view::npos)
    throw std::logic_error("not in the text: " + std::string(piece));
  Position position;
  for (const char c : text.substr(0, at)) {
    position.column = c == '\n' ? 1 : position.column + 1;
    position.line += c == '\n' ? 1 : 0;
  }
  return position;
}

inline std::string content_of(const std::string& path) {
  std::ifstream file(std::filesystem::path(BRINEGATE_SOURCE_DIR) / path);
  std::ostringstream text;
  text << file.rdbuf();
  if (!file.is_open() || text.str().empty())
    throw std::runtime_error("cannot read " + path);
  return text.str();
}

}  // namespace brinegate::config
