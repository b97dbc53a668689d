// SPDX-License-Identifier: Apache-2.0
// The health of a station's cells in words, a table and a small plot.
#pragma once

#include <string>
#include <string_view>

#include <nlohmann/json_fwd.hpp>

namespace brinegate::daemon {

// Of one cell, as in the station's state under probe_health.
std::string probe_health_text(std::string_view probe, const nlohmann::ordered_json& health);

// A line for every cell that is to be calibrated now; empty where none is.
std::string calibrations_due_text(const nlohmann::ordered_json& station);

}  // namespace brinegate::daemon
