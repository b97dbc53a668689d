// SPDX-License-Identifier: Apache-2.0
// What a batch must be before it may be used.
#pragma once

#include <string>

#include "rules/time.h"
#include "rules/units.h"

namespace brinegate {

struct Profile {
  std::string name;
  PracticalSalinity target{34.836};    // 35 g/kg
  PracticalSalinity tolerance{0.995};  // 1 g/kg; common practice, no source: 35 ± 1
  double risk = 0.01;                  // accepted probability of being out of tolerance (JCGM 106)
  Celsius temperature_low{24.0};
  Celsius temperature_high{26.0};
  Celsius temperature_steady{0.3};                // most it may move within one window
  Duration circulate = std::chrono::minutes(30);  // circulation since the last addition
  Duration keep = std::chrono::hours(14 * 24);    // oldest a proven batch may be used
  // Of the course that is judged. In a shorter one a probe's slow drift or a thermometer's coarse
  // steps can hide the slope of a slow part that still dissolves.
  Duration window = std::chrono::minutes(30);
  // Salt may still change the salinity by this much at most ...
  PracticalSalinity still_to_dissolve{0.1};
  // ... if its slowest part goes on with this time constant (a deliberately long guess).
  Duration slowest_part = std::chrono::minutes(40);
  bool dose_required = false;  // a batch without its salt noted is not proven

  bool operator==(const Profile&) const = default;
};

}  // namespace brinegate
