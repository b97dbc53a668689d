// SPDX-License-Identifier: Apache-2.0
// `brinegate-sim serve`: a rig in real time on Modbus TCP, Modbus RTU and MQTT, faults on request.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "rules/result.h"
#include "sim/rig.h"

namespace brinegate::sim {

struct ServeOptions {
  std::optional<std::string> modbus_tcp;  // "127.0.0.1:1502"
  std::optional<std::string> modbus_rtu;  // path of the symbolic link
  std::optional<std::string> mqtt;        // "mqtt://127.0.0.1:1883"
  std::optional<std::string> control;     // path of the Unix socket
  std::string site = "cellar";
  RigSpec rig;
};

// From the words after `serve`.
Result<ServeOptions> parse_serve_options(std::span<const std::string_view> words);

// Options, register map, topics and commands, for people.
std::string serve_help();

// Runs until `quit`, SIGINT or SIGTERM. Exit status: 0 done, 2 something could not be opened.
int serve(const ServeOptions& options);

}  // namespace brinegate::sim
