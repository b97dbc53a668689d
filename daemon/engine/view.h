// SPDX-License-Identifier: Apache-2.0
// A station as JSON for people and machines around it: the same shape on MQTT, the control socket
// and the command line.
#pragma once

#include <string>

#include "daemon/engine/state_json.h"
#include "rules/station.h"
#include "rules/time.h"

namespace brinegate::daemon {

Json station_view(const Station& station, Instant now);

Json check_view(const CheckResult& check, const Station& station, MonoTime now);
Json alarm_view(const Alarm& alarm, const Station& station);
Json amounts_view(const ExchangeAmounts& amounts);
// What the lots' analyses make expect of the mixed water, by analyte: {"Ca": "421 mg/L", ...}; at
// the proven salinity, else at the target. Empty where no analysis is on record.
Json expected_view(const Batch& batch);
Json permit_view(const Permit& permit);
Json salinity_view(PracticalSalinity salinity);
// Numbers for people and automations need no more digits than the instruments have.
Json rounded(double value, int decimals);

// Changes where a person would want to know: phase, gate, verdicts, batch, permit, change,
// contacts, alarms; not where only a number moved.
std::string view_signature(const Station& station);

}  // namespace brinegate::daemon
