// SPDX-License-Identifier: Apache-2.0
// The sheet of one batch, to be printed on one page and filed: what was mixed, how its salinity
// came to rest, what was proven with what risk, what was drawn. It names a hash of the record, by
// which a later hand in either shows.
#pragma once

#include <string>
#include <vector>

#include <nlohmann/json.hpp>

#include "daemon/engine/effects.h"
#include "daemon/engine/state_json.h"
#include "daemon/history_tables.h"
#include "daemon/store_tables.h"

namespace brinegate::daemon {

struct BatchSheet {
  std::string site;
  StoredState batch;                    // of the table "batch"
  std::vector<RecordRow> entries;       // about it, oldest first
  std::vector<RecordRow> calibrations;  // of the station's probes, latest of each
  std::vector<HistoryRow> salinity;     // practical, over its life
  Json effect;                          // on the tank, as of batch_effect()
};

// HTML, well-formed XML too.
std::string batch_sheet_html(const BatchSheet& sheet);

}  // namespace brinegate::daemon
