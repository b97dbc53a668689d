// SPDX-License-Identifier: Apache-2.0
// `brinegate-sim faults`: stations in virtual time under faults, or the life of one told in full.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "rules/result.h"
#include "sim/faults/fault_campaign.h"

namespace brinegate::sim {

struct FaultsOptions {
  FaultPlan plan;
  std::optional<std::uint64_t> replay;
  std::optional<std::string> json;  // path, written again now and then
};

// From the words after `faults`.
Result<FaultsOptions> parse_faults_options(std::span<const std::string_view> words);
std::string faults_help();
// Returns the exit status.
int faults(const FaultsOptions& options);

}  // namespace brinegate::sim
