// SPDX-License-Identifier: Apache-2.0
// What a station can say of the health of its own cells: the comparisons that a batch allows at its
// proof, and what a cell's health is judged by.
#pragma once

#include <cstddef>
#include <vector>

#include "rules/probe_health.h"
#include "rules/station.h"

namespace brinegate {

// Of a cell with the salt weighed in and with the best other cell, as far as there are. The salt
// that was in the reservoir before was measured by the cells themselves and is no witness: its
// share is taken out, and a batch that is more than half of it compares nothing.
std::vector<HealthPoint> points_at_proof(const Station& station, std::size_t probe, WallTime now);

// At the target of the batch's profile, or of the last one's. None for what is no cell, and where
// it is not known since when.
std::optional<HealthQuestion> health_question(const Station& station, std::size_t probe,
                                              WallTime known_since, WallTime today);

}  // namespace brinegate
