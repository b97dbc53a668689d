// SPDX-License-Identifier: Apache-2.0
// What a batch must be before it may be used.
#pragma once

#include <map>
#include <set>
#include <string>

#include "rules/chemistry/analyte.h"
#include "rules/time.h"
#include "rules/units.h"

namespace brinegate {

enum class CheckId;

struct Profile {
  std::string name;
  PracticalSalinity target{34.836};    // 35 g/kg
  PracticalSalinity tolerance{0.995};  // 1 g/kg; common practice, no source: 35 ± 1
  double risk = 0.01;                  // accepted probability of being out of tolerance (JCGM 106)
  Celsius temperature_low{24.0};
  Celsius temperature_high{26.0};
  Duration circulate = std::chrono::minutes(30);  // circulation since the last addition
  Duration keep = std::chrono::hours(14 * 24);    // oldest a proven batch may be used
  // Most that circulation may stand still before the proof is void (common practice, no source).
  Duration standing = std::chrono::hours(6);
  PracticalSalinity still_to_dissolve{0.1};  // the salinity may still change by this much at most
  // The longest time constant to reckon with for the salt's slowest part (common practice, no
  // source: coarse crystals and carbonates take an hour or two).
  Duration slowest_part = std::chrono::minutes(160);
  bool dose_required = false;  // a batch without its salt noted is not proven
  bool lot_required = false;   // its lots must be on record with an analysis, and not expired
  // What the lots may bring, by their analyses, and what a person must have measured by hand: of
  // water at the target. Open ends are 0 and infinity.
  std::map<Analyte, ContentRange> limits;
  std::map<Analyte, ContentRange> hand_tests;
  std::set<CheckId> waivable;  // that a person may waive (S8); of those in waiver.h

  // A proof holds up to this one: water that is watched does not become worse because its cell's
  // calibration grows old or a reading wavers.
  [[nodiscard]] constexpr double risk_to_hold() const { return 2.0 * risk; }

  bool operator==(const Profile&) const = default;
};

}  // namespace brinegate
