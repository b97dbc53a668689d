// SPDX-License-Identifier: Apache-2.0
// Lines of the record as JSON: the same on the command line and over HTTP.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "daemon/engine/state_json.h"
#include "daemon/store_tables.h"
#include "rules/result.h"

namespace brinegate::daemon {

// Bodies are written by the engine; one that is damaged must not hide the others.
Json body_of(const std::string& text);
// {"sequence": 17, "at": "2026-11-02T18:00:00Z", "station": "mixer", "kind": "proven", "body": {},
//  "hash": "9f86d0.."}, the hash as in record_chain.h
Json record_view(const RecordRow& row);
// All about one batch, however long ago, oldest first: entries about a batch name it, and those
// that hold the batch itself have it as their id.
Result<std::vector<RecordRow>> query_batch(const std::filesystem::path& data,
                                           const std::string& station, const std::string& batch);

}  // namespace brinegate::daemon
