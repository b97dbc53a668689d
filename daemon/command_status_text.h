// SPDX-License-Identifier: Apache-2.0
// The state of a station for people, from the JSON that everybody else gets too: reads like a work
// permit, with its headline first.
#pragma once

#include <string>

#include <nlohmann/json_fwd.hpp>

namespace brinegate::daemon {

std::string station_text(const nlohmann::ordered_json& station);

// Its alarms alone, one a line; empty where there are none.
std::string alarms_text(const nlohmann::ordered_json& station);

// The plain members of an object as lines "name  value", units taken from the names ("water_l").
std::string facts_text(const nlohmann::ordered_json& object);
// The same on one line: "salt 7400 g, drawn 12 L".
std::string facts_line(const nlohmann::ordered_json& object);

}  // namespace brinegate::daemon
