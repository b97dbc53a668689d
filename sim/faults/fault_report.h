// SPDX-License-Identifier: Apache-2.0
// What a campaign of faults found, as a table for people and as JSON for programs.
#pragma once

#include <string>

#include <nlohmann/json.hpp>

#include "sim/faults/fault_campaign.h"

namespace brinegate::sim {

std::string fault_table(const FaultSummary& summary);
nlohmann::ordered_json fault_json(const FaultSummary& summary);

}  // namespace brinegate::sim
