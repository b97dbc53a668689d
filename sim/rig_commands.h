// SPDX-License-Identifier: Apache-2.0
// The rig's command lines (stdin and control socket): one line in, one JSON object out.
#pragma once

#include <string>
#include <string_view>

#include "sim/rig.h"

namespace brinegate::sim {

// What `state` shows: the truth of the water, the devices, the probes and their faults.
std::string state_line(const Rig& rig);

// Carries out one line and answers one line of JSON, {"ok": true, ...} or {"error": "..."}.
// `quit` is the caller's.
std::string run_command(Rig& rig, std::string_view line);

// The commands, for people.
std::string command_help();

}  // namespace brinegate::sim
