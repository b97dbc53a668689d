// SPDX-License-Identifier: Apache-2.0
// The outputs of a station by their roles: the one list that drivers and the engine go by.
#pragma once

#include <vector>

#include "config/model.h"
#include "drivers/driver.h"

namespace brinegate::drivers {

struct StationOutput {
  OutputRole role = OutputRole::Pump;
  const config::Output* output = nullptr;
  Duration lease{0};  // of each "on"
};

inline std::vector<StationOutput> outputs_of(const config::Station& station) {
  std::vector<StationOutput> outputs;
  if (!station.pump) {
    return outputs;
  }
  const Duration lease = station.spec.pump->lease;
  outputs.push_back({OutputRole::Pump, &station.pump->output, lease});
  if (station.pump->second_cutoff) {
    outputs.push_back({OutputRole::SecondCutoff, &*station.pump->second_cutoff, lease});
  }
  if (station.hold_off) {
    outputs.push_back({OutputRole::HoldOff, &*station.hold_off, station.spec.hold_off->lease});
  }
  if (station.drain) {
    outputs.push_back({OutputRole::Drain, &*station.drain, lease});
  }
  return outputs;
}

}  // namespace brinegate::drivers
