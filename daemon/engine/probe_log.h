// SPDX-License-Identifier: Apache-2.0
// Says in the log that a probe of a station has no good reading, once, and that it has one again,
// as loudly, after how long and how many bad samples. What comes and goes within a few seconds is
// the record's, not the log's.
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include "daemon/engine/effects.h"
#include "rules/station.h"
#include "rules/time.h"

namespace brinegate::daemon {

class ProbeLog {
 public:
  // Once after each step.
  void follow(const Station& station, const StationOutcome& outcome, MonoTime now,
              std::vector<Effect>& effects);

 private:
  struct Told {
    bool bad = false;
    std::optional<MonoTime> bad_since;
    std::size_t bad_samples = 0;
    std::optional<MonoTime> otherwise_since;  // it is no longer as was told
  };

  std::vector<Told> told_;  // by probe
};

}  // namespace brinegate::daemon
