// SPDX-License-Identifier: Apache-2.0
// One station as configured: reservoir, probes, gated pump and its limits. Limits stand here and
// never in a request.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "rules/probe.h"
#include "rules/time.h"
#include "rules/units.h"

namespace brinegate {

enum class PermitMode {
  PerChange,    // the gate opens for one asked change and shuts at its end
  WhileProven,  // our relay stands in series with something that starts and stops by itself
};

struct PumpSpec {
  PermitMode permit = PermitMode::PerChange;
  Duration lease = std::chrono::seconds(5);
  Duration dwell = std::chrono::seconds(10);           // every check met this long before an open
  Litres max_volume{0.0};                              // of one change or run
  Duration max_run{0};                                 // of one change or run
  Duration no_flow_after = std::chrono::seconds(60);   // pump on, level or flow does not show it
  Duration readback_within = std::chrono::seconds(5);  // read-back must follow the output
  Litres unasked_loss{2.0};  // level may fall this much while shut before it is an alarm
  bool simulated = false;    // the output says it is a simulated one
  bool has_readback = false;
};

// What holds automatic top-off and dosing on the tank off while water is changed (S18).
struct HoldOffSpec {
  Duration lease = std::chrono::seconds(60);  // longer than a restart of the daemon takes
  Duration confirm_within = std::chrono::seconds(30);
  Duration rest = std::chrono::minutes(1);  // the level has rested so long before it is let go
};

// The second gated pump, which takes old water out of the tank: a change is an exchange (S19).
struct DrainSpec {
  PumpSpec pump;          // its permit, lease and dwell are those of the pump that fills
  Litres portion{0.0};    // drained and returned may differ by so much on the way; 0: all of it
  Litres tolerance{2.0};  // and by so much at the end
};

struct StationSpec {
  std::string name;
  Litres capacity{0.0};
  Litres low_level{0.0};  // a change ends here; below it the reservoir counts as empty
  std::vector<ProbeSpec> probes;
  std::optional<PumpSpec> pump;
  std::optional<HoldOffSpec> hold_off;
  std::optional<DrainSpec> drain;
};

}  // namespace brinegate
