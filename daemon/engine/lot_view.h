// SPDX-License-Identifier: Apache-2.0
// Lots as JSON for people and machines: the same from the running daemon and on the command line.
//
// Every row of an analyte begins with {"analyte": "Ca", "name": "Calcium", "group": "major ions",
// "unit": "mg/L"}. A content is {"low": 421, "high": 421, "standard_uncertainty": 8.4, "shown":
// "421 mg/L"}, its numbers in the row's unit, low < high where it was not found; null where it is
// not known.
#pragma once

#include <span>
#include <vector>

#include "config/chemistry/content_words.h"
#include "daemon/engine/state_json.h"
#include "rules/chemistry/lot.h"
#include "rules/chemistry/tank.h"
#include "rules/units.h"

namespace brinegate::daemon {

Json analyte_view(Analyte analyte);
Json content_view(const CensoredValue& content, Analyte analyte,
                  const config::WaterOfSample& water);
Json content_view(const std::optional<CensoredValue>& content, Analyte analyte,
                  const config::WaterOfSample& water);
// {"low": 400, "high": 450, "weight": 1, "never_above": false, "source": "...", "shown":
// "400-450"}, in the row's unit; null: nothing is wanted.
Json wanted_view(const std::optional<Wanted>& wanted, Analyte analyte,
                 const config::WaterOfSample& water);
// {"low": 400, ...} as a content that is neither a test's nor a lot's own: one number.
Json number_view(double content, Analyte analyte, const config::WaterOfSample& water);

// {"lot", "version", "salt", "expires", "dry_fraction", "entered", "entered_by", "values",
// "findings"}: without its contents, for a list.
Json lot_summary(const Lot& lot);

// [{"kind", "analyte", "sentence"}]: what cannot be right about an analysis.
Json findings_view(const Assay& assay);

// The lot, what was analysed ("written", "line") and what that comes to in water of this salinity
// ("content"), and whether the analysis can be true ("sanity").
Json lot_view(const Lot& lot, PracticalSalinity at);

// Lots side by side in water of this salinity, each analyte that one of them or the tank names;
// with a tank (may be null) its content at `now` and what is wanted of it. "lots" of a row stand in
// the order of "lots" at the top.
Json compare_view(std::span<const Lot> lots, const Tank* tank, PracticalSalinity at, WallTime now);

}  // namespace brinegate::daemon
