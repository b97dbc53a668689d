// SPDX-License-Identifier: Apache-2.0
// What a campaign found: as a table for a terminal, as JSON for programs, as figures for a reader.
#pragma once

#include <cstdint>
#include <string>
#include <utility>

#include <nlohmann/json.hpp>

#include "sim/campaign.h"

namespace brinegate::sim {

// At most 80 columns.
std::string campaign_table(const CampaignSummary& summary);
// Salinities in PSU.
nlohmann::ordered_json campaign_json(const CampaignSummary& summary);
// A whole page.
std::string campaign_html(const CampaignSummary& summary);

// Neither permitted while off target nor never proven.
bool is_clean(const CampaignSummary& summary);

// Of the probability behind `hits` of `trials`, which must not be 0 (asserted): the 95 % score
// interval (Wilson 1927, J. Am. Stat. Assoc. 22:209).
std::pair<double, double> binomial_interval_95(std::uint64_t hits, std::uint64_t trials);

// A difference of practical salinity as people read it: g/kg.
double ppt(double difference_psu);

}  // namespace brinegate::sim
