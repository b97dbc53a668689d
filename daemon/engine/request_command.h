// SPDX-License-Identifier: Apache-2.0
// From what was asked, in words, to a command for the station, in types: names looked up, rights
// checked, the standard's value brought to the temperature of the water.
#pragma once

#include <string>

#include "config/model.h"
#include "daemon/engine/events.h"
#include "daemon/engine/library.h"
#include "daemon/engine/request.h"
#include "daemon/engine/station_unit.h"
#include "rules/result.h"
#include "rules/station_events.h"

namespace brinegate::daemon {

// What a new batch's id is made of.
struct BatchIds {
  WallTime now;
  std::string current;
};

// What is known of lots: their records, and what their batches have shown them to yield.
struct LotKnowledge {
  const Library& library;
  const LotYields& yields;
};

// Whether this may be asked from there at all; a change, a stop and a note may from everywhere.
bool may_ask(const Request& request, Origin origin);

Result<Command> command_of(const Request& request, Origin origin, const config::Site& site,
                           const StationUnit& unit, const BatchIds& ids, const LotKnowledge& lots);

// "there is no station 'mixr': did you mean 'mixer'?"
std::string unknown_station(const std::string& name, const config::Site& site);

}  // namespace brinegate::daemon
