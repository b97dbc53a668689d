// SPDX-License-Identifier: Apache-2.0
// Says in the log that a probe of a station has no good reading, once, and that it has one again,
// as loudly. What comes and goes within a few seconds is the record's, not the log's.
#pragma once

#include <optional>
#include <vector>

#include "daemon/engine/effects.h"
#include "rules/station.h"
#include "rules/time.h"

namespace brinegate::daemon {

class ProbeLog {
 public:
  void follow(const Station& station, MonoTime now, std::vector<Effect>& effects);

 private:
  struct Told {
    bool bad = false;
    std::optional<MonoTime> otherwise_since;  // it is no longer as was told
  };

  std::vector<Told> told_;  // by probe
};

}  // namespace brinegate::daemon
