// SPDX-License-Identifier: Apache-2.0
// Lines of the record as JSON: the same on the command line and over HTTP.
#pragma once

#include <string>
#include <string_view>

#include "daemon/engine/state_json.h"
#include "daemon/store_tables.h"

namespace brinegate::daemon {

// Bodies are written by the engine; one that is damaged must not hide the others.
Json body_of(const std::string& text);
// {"sequence": 17, "at": "2026-11-02T18:00:00Z", "station": "mixer", "kind": "proven", "body": {},
//  "hash": "9f86d0.."}, the hash as in record_chain.h
Json record_view(const RecordRow& row);
// Entries about a batch name it; those that hold the batch itself have it as their id.
bool concerns_batch(const RecordRow& row, std::string_view batch);

}  // namespace brinegate::daemon
