// SPDX-License-Identifier: Apache-2.0
// Why a probe reads something else than its display shows, where the two numbers give it away. Only
// advice: no decision rests on it.
#pragma once

#include <optional>
#include <string>

#include "config/model.h"
#include "rules/station_events.h"

namespace brinegate::config {

// `water`: the temperature beside the probe, where it is known. Empty: no guess.
std::string likely_cause(const ProbeSpec& probe, const SourceAddress& source,
                         const Comparison& compared, std::optional<Celsius> water);

}  // namespace brinegate::config
