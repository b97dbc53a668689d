// SPDX-License-Identifier: Apache-2.0
// The stations' state in the text format of OpenMetrics 1.0. What is not known has no sample; times
// are absolute; units are base units but for litres and g/kg, which keepers think in.
#pragma once

#include <optional>
#include <string>

#include "daemon/engine/state_json.h"
#include "rules/time.h"

namespace brinegate::daemon {

constexpr const char* openmetrics_type =
    "application/openmetrics-text; version=1.0.0; charset=utf-8";

// `stations`: an array of station_view().
std::string metrics_text(const Json& stations, std::optional<WallTime> record_written);

}  // namespace brinegate::daemon
