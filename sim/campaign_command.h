// SPDX-License-Identifier: Apache-2.0
// `brinegate-sim campaign`: runs it and says what it found.
#pragma once

#include "sim/campaign_options.h"

namespace brinegate::sim {

// Exit status: 0 nothing wrong, 1 permitted while off target or never proven, 2 a file could not be
// written.
int campaign(const CampaignOptions& options);

}  // namespace brinegate::sim
