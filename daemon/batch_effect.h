// SPDX-License-Identifier: Apache-2.0
// What a batch does to the tank that its station draws into: of what was drawn of it, from the tank
// as its tests showed it before; of a batch not drawn yet, from the tank as it is now.
#pragma once

#include <optional>
#include <vector>

#include <nlohmann/json.hpp>

#include "config/model.h"
#include "daemon/engine/library.h"
#include "daemon/engine/request.h"
#include "daemon/engine/state_json.h"
#include "daemon/store_tables.h"
#include "rules/time.h"

namespace brinegate::daemon {

struct EffectQuestion {
  StoredState batch;                       // of the table "batch"
  std::vector<RecordRow> entries;          // about it, oldest first
  std::optional<config::Station> station;  // none: no longer configured
  std::optional<ExchangeAmount> change;    // to be foretold; else what was drawn, else the most
                                           // that one change may move
};

// {"sentence", "tank", "volume_l", "drawn", "analytes"}: the latter as of effect_view(), and none
// where the sentence says why there are none.
Json batch_effect(const EffectQuestion& question, const Library& library, WallTime now);
// Of its analytes those for people: the first few that read otherwise after than before.
std::vector<Json> most_moved(const Json& effect);

}  // namespace brinegate::daemon
