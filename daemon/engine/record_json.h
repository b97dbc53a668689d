// SPDX-License-Identifier: Apache-2.0
// What happened in a station as entries of the record: a kind and a JSON body.
#pragma once

#include <string>

#include <nlohmann/json.hpp>

#include "daemon/engine/state_json.h"
#include "rules/station.h"
#include "rules/station_events.h"

namespace brinegate::daemon {

struct RecordText {
  std::string kind;
  Json body;
};
RecordText record_of(const StationEvent& event, const Station& station, MonoTime now);

}  // namespace brinegate::daemon
