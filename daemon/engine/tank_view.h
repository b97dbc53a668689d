// SPDX-License-Identifier: Apache-2.0
// Tanks, what changes of water would do to them, and what they did, as JSON for people and
// machines. Rows and contents as in lot_view.h, at the salinity that the tank is kept at.
#pragma once

#include <span>

#include "daemon/engine/state_json.h"
#include "rules/chemistry/exchange.h"
#include "rules/chemistry/lot.h"
#include "rules/chemistry/tank.h"

namespace brinegate::daemon {

// {"tank", "volume_l", "at", "temperature_c", "tests", "latest_test", "changes", "latest_change"}
Json tank_summary(const Tank& tank);

// The tank at `now`: of each analyte that is wanted or was tested what is wanted, the latest test
// and when ("tested"), what is used a day ("consumption", which says whether it was set or
// estimated, and from how many tests) and the content now.
Json tank_view(const Tank& tank, WallTime now);

// {"mode", "fraction", "interval_s", "changes", "practical_salinity", "reference_salinity_g_kg",
// "temperature_c", "shown"}
Json plan_view(const ChangePlan& plan);

// What the plan with this lot makes of each analyte: now, in the end and for ever ("tends_to");
// after each change of up to 60, evenly spaced ones of more ("course": "change", its number, and
// "before" and "after" with "low", "high" and their 95 % interval "at_least" to "at_most"); how
// many changes until it is in the wanted range
// ("changes_until": null: never; "surely_until": the 95 % interval) in a sentence; and what one
// change moves against the tank's limits ("steps"). What cannot be foretold is in "not_tested" and
// "not_in_lot".
Json forecast_view(const Tank& tank, const Lot& lot, const ChangePlan& plan, WallTime now);

// What one change of water of this composition moves in the tank as of `at`, most first: of each
// analyte that is wanted, by how much of half the wanted range's width ("moved"; scale_of).
// {"tank", "plan", "at", "analytes": [{... "wanted", "tank", "after", "moved"}]}
Json effect_view(const Tank& tank, const Composition& composition, const ChangePlan& plan,
                 WallTime at);

// The lots, best first, each with its score and vetoes, and the first 50 with all analytes
// ("analytes") and what would make them as good as the first ("costs").
Json rank_view(const Tank& tank, std::span<const Lot> lots, const ChangePlan& plan, WallTime now);

// The latest test against what was foretold of it.
Json outcome_view(const Tank& tank);

}  // namespace brinegate::daemon
