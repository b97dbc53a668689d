// SPDX-License-Identifier: Apache-2.0
// The configuration of a virtual station, as the daemon would have read it from its file.
#pragma once

#include <optional>
#include <vector>

#include "config/model.h"
#include "sim/faults/life_plan.h"
#include "sim/faults/plant.h"

namespace brinegate::sim {

inline constexpr const char* station_name = "mixer";

// Of the site's probes, in their order.
std::vector<Instrument> instruments_of(const StationTraits& station);

// `edits`: how often somebody has edited a probe's entry since the beginning (S15).
config::Site virtual_site(const StationTraits& station, int edits);

}  // namespace brinegate::sim
