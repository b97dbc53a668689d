// SPDX-License-Identifier: Apache-2.0
// The command line of `brinegate-sim campaign`: many batches, or one of them looked at closely.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "rules/result.h"
#include "sim/campaign.h"

namespace brinegate::sim {

struct CampaignOptions {
  CampaignPlan plan;
  std::optional<std::uint64_t> replay;  // run the batch of this seed alone and show its course
  std::optional<std::string> json;      // paths
  std::optional<std::string> html;
};

// From the words after `campaign`.
Result<CampaignOptions> parse_campaign_options(std::span<const std::string_view> words);
std::string campaign_help();

// As on the command line.
std::string_view word(BatchKind kind);
std::string_view word(ErrorLaw errors);
// What repeats one batch of a campaign: "brinegate-sim campaign --replay 17 --kind good".
std::string replay_command(std::uint64_t seed, const CampaignPlan& plan);

}  // namespace brinegate::sim
