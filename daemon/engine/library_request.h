// SPDX-License-Identifier: Apache-2.0
// What can be asked of the lots and tanks on record, alike by the running daemon and by the command
// line where none runs: that holds the data folder's lock, restores a Library and writes the Append
// itself.
#pragma once

#include <vector>

#include "config/chemistry/lot_text.h"
#include "daemon/engine/events.h"
#include "daemon/engine/library.h"
#include "daemon/engine/request.h"
#include "daemon/engine/state_json.h"
#include "rules/time.h"

namespace brinegate::daemon {

// Of a lot or a tank, not of a station.
bool concerns_library(const Request& request);

// Lines of a pasted table that name nothing: [{"line": 7, "text": "...", "why": "..."}].
Json unread_view(const std::vector<config::UnreadLine>& lines);

// The answer, as of every request; on success what changed is in `library` and in `append`:
//   {"id": "a1", "ok": true, "message": "...", "reasons": [], "lot": "H-2291", "version": 1,
//    "unread": [{"line": 7, "text": "...", "why": "..."}]}
//   {"id": "a1", "ok": false, "message": "Refused: ...", "reasons": ["file.csv:3:1: ..."]}
// `tank` in place of `lot` where it is about one; `unread` lines of an analysis. A request that
// does not concern the library is refused.
// Only on the machine itself may a lot's dry fraction be stated or changed (S13).
Json apply_library_request(Library& library, const Request& request, Append& append, WallTime now,
                           Origin origin = Origin::Local);

}  // namespace brinegate::daemon
