// SPDX-License-Identifier: Apache-2.0
// What the engine keeps of a station's probes across restarts: since when each is known, and how
// its cells compared with other witnesses from batch to batch.
#pragma once

#include <string>
#include <vector>

#include "daemon/engine/effects.h"
#include "daemon/engine/state_json.h"
#include "rules/station.h"

namespace brinegate::daemon {

class ProbeRecords {
 public:
  explicit ProbeRecords(const StationSpec& spec) : records_(spec.probes.size()) {}

  // Of a probe that is no longer configured: nothing happens.
  void restore(const std::string& probe, ProbeRecord record, Station& station);
  // After every step: what happened in it goes on record.
  void follow(Station& station, const std::vector<StationEvent>& events, WallTime now,
              Append& append);
  // By cell.
  [[nodiscard]] Json view(const Station& station, WallTime now) const;

 private:
  void meet(Station& station, WallTime now, Append& append);
  void keep(const Station& station, std::size_t probe, const HealthPoint& point, Append& append);
  void store(const Station& station, std::size_t probe, Append& append) const;

  std::vector<ProbeRecord> records_;  // by probe
};

}  // namespace brinegate::daemon
