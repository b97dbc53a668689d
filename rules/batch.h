// SPDX-License-Identifier: Apache-2.0
// One filling of a reservoir, from first water to empty, and the proof it carries. Profile and lot
// are frozen into it when it begins.
#pragma once

#include <map>
#include <optional>
#include <string>

#include "rules/mass_balance.h"
#include "rules/profile.h"
#include "rules/salt_factor.h"
#include "rules/time.h"
#include "rules/units.h"

namespace brinegate {

constexpr PracticalSalinity salty{1.0};  // more than any source water

enum class BatchPhase { Empty, Rejected, Filling, Mixing, Proven, Drawing };

// What was true when the batch was proven.
struct Proof {
  PracticalSalinity salinity;
  double standard_uncertainty = 0.0;  // PSU
  double risk = 1.0;                  // probability of being out of tolerance all the same
  Celsius temperature;
  std::optional<Litres> volume;
  WallTime at;

  bool operator==(const Proof&) const = default;
};

// What took the proof away.
enum class ProofVoid {
  None,
  SomethingAdded,
  LevelRose,
  SalinityMoved,
  Recalibrated,
  StoodStill,  // circulation stood still, or was not watched, for too long
  Evaporated,
  ProfileEdited,
  ProbeEdited,
};

// The configuration that a proof relies on (S15).
struct ReliedOn {
  std::optional<Profile> profile;                  // as configured by now; none: no longer
  std::map<std::string, std::string> map_entries;  // by the probe's name

  bool operator==(const ReliedOn&) const = default;
};

struct Batch {
  std::string id;
  std::string lot;
  Profile profile;
  SaltProduct product;
  SaltFactor salt_factor;
  WallTime begun;
  BatchPhase phase = BatchPhase::Empty;

  Litres rest;  // what was left in the reservoir when it began
  PracticalSalinity rest_salinity;
  Grams dry_salt;  // anhydrous sea salt it must hold: of the rest and of what was added
  Grams salt;      // product noted in all
  bool salt_noted = false;
  Litres water_noted;      // fresh water noted less water noted as removed
  bool salt_seen = false;  // the water was salty since it began
  // Its proof will tell what the lot yields: it began with fresh water or none, and since then
  // nothing was taken out and its dose was not disputed.
  bool teaches = false;
  Duration circulated{0};  // since the last addition
  Duration standing{0};    // since the water was last seen to circulate
  Duration age{0};         // since it began
  std::optional<Proof> proof;
  ReliedOn relied_on;
  ProofVoid voided = ProofVoid::None;
  std::optional<Litres> lowest_volume;  // seen since the proof
  Litres evaporated;                    // since the proof: lost without being drawn
  std::optional<Litres> unevaporated;   // what the level would be without that; none while drawn
  Litres drawn;                         // into the tank
  int permits = 0;

  [[nodiscard]] bool in_progress() const { return phase != BatchPhase::Empty; }
  [[nodiscard]] bool is_proven() const { return phase >= BatchPhase::Proven; }
};

}  // namespace brinegate
