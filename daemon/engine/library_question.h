// SPDX-License-Identifier: Apache-2.0
// What can be asked of the lots and tanks on record without changing them: the running daemon's
// side. The command line asks the same views of what it read itself.
#pragma once

#include <string_view>

#include "daemon/engine/library.h"
#include "daemon/engine/request.h"
#include "daemon/engine/state_json.h"
#include "rules/chemistry/exchange.h"
#include "rules/result.h"
#include "rules/time.h"

namespace brinegate::daemon {

// "H-2291", its latest version, or "H-2291/1".
Result<Lot> lot_named(const Library& library, std::string_view written);
Result<Tank> tank_named(const Library& library, std::string_view name);

// With what was left out filled in: once a week, the tank's own salinity and temperature.
Result<ChangePlan> plan_of(const AskedPlan& asked, const Tank& tank);

// One that only reads.
bool asks_library(const Request& request);
// The answer: "id", "ok", and the members of the view (lot_view.h, tank_view.h), or "message".
Json answer_question(const Library& library, const Request& request, WallTime now);

}  // namespace brinegate::daemon
