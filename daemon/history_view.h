// SPDX-License-Identifier: Apache-2.0
// The history of a probe as it is asked for and told: the same on the command line and over HTTP.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "daemon/engine/state_json.h"
#include "daemon/history_tables.h"
#include "rules/result.h"
#include "rules/time.h"

namespace brinegate::daemon {

// From "station", "probe", "from", "to" and "every", of which the last three may be missing: of the
// last day, or the day before "to", in as many rows as a curve needs. The error names the word.
Result<HistoryQuery> read_history_query(const std::map<std::string, std::string>& words,
                                        WallTime now);

// {"station": "mixer", "probe": "cell_a", "from": .., "to": .., "every_s": 60, "readings": [
//  {"at": "2026-11-02T18:00:00Z", "value": 53.02, "low": 53.0, "high": 53.04, "quality": "good"}]}
Json history_view(const HistoryQuery& query, const std::vector<HistoryRow>& rows);
// The same readings after RFC 4180, with a first line of names; what there is not is empty.
std::string history_csv(const std::vector<HistoryRow>& rows);

}  // namespace brinegate::daemon
