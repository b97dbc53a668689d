// SPDX-License-Identifier: Apache-2.0
// Lines of the record and of the history as JSON: the same on the command line and over HTTP.
#pragma once

#include <string>
#include <string_view>

#include "daemon/engine/state_json.h"
#include "daemon/store_tables.h"

namespace brinegate::daemon {

// Bodies are written by the engine; one that is damaged must not hide the others.
Json body_of(const std::string& text);
// {"sequence": 17, "at": "2026-11-02T18:00:00Z", "station": "mixer", "kind": "proven", "body": {}}
Json record_view(const RecordRow& row);
// Entries about a batch name it; those that hold the batch itself have it as their id.
bool concerns_batch(const RecordRow& row, std::string_view batch);
// {"at": "2026-11-02T18:00:00Z", "value": 35.02, "low": 35.0, "high": 35.04, "quality": "good"}
Json reading_view(const HistoryRow& row);

}  // namespace brinegate::daemon
