// SPDX-License-Identifier: Apache-2.0
// The stations' state in the text format of OpenMetrics 1.0. What is not known has no sample; times
// are absolute; units are base units but for litres and g/kg, which keepers think in.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "daemon/engine/state_json.h"
#include "daemon/notifier.h"
#include "drivers/mqtt_session.h"
#include "rules/time.h"

namespace brinegate::daemon {

constexpr const char* openmetrics_type =
    "application/openmetrics-text; version=1.0.0; charset=utf-8";

// How the daemon gets on with what is around it.
struct Surroundings {
  std::vector<ReceiverCounts> receivers;     // of alarms, and of the heartbeat
  std::optional<drivers::MqttStats> broker;  // none where none is configured
};

// `stations`: an array of the stations' whole states, as published.
std::string metrics_text(const Json& stations, const Surroundings& around,
                         std::optional<WallTime> record_written);

}  // namespace brinegate::daemon
