// SPDX-License-Identifier: Apache-2.0
// One filling of a reservoir, from first water to empty, and the proof it carries. Profile and lots
// are frozen into it when it begins, or when salt of a lot is added.
#pragma once

#include <map>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "rules/chemistry/lot.h"
#include "rules/mass_balance.h"
#include "rules/profile.h"
#include "rules/salt_factor.h"
#include "rules/time.h"
#include "rules/units.h"

namespace brinegate {

constexpr PracticalSalinity salty{1.0};  // more than any source water

enum class BatchPhase { Empty, Rejected, Filling, Mixing, Proven, Drawing };

// See waiver.h.
struct Waiver {
  CheckId check{};
  std::string person;
  std::string reason;
  WallTime granted;
  Duration length{0};
  MonoTime until;  // what counts
};

// What was true when the batch was proven.
struct Proof {
  PracticalSalinity salinity;
  double standard_uncertainty = 0.0;  // PSU
  double risk = 1.0;                  // probability of being out of tolerance all the same
  Celsius temperature;
  std::optional<Litres> volume;
  WallTime at;
  std::set<CheckId> waived;  // of the proof, not met by themselves

  bool operator==(const Proof&) const = default;
};

// What took the proof away.
enum class ProofVoid {
  None,
  SomethingAdded,
  LevelRose,
  SalinityMoved,
  RiskGrew,  // of being out of tolerance, and stayed too great
  Recalibrated,
  StoodStill,  // circulation stood still, or was not watched, for too long
  Evaporated,
  ProfileEdited,
  ProbeEdited,
  LotEdited,
};

// The configuration that a proof relies on (S15).
struct ReliedOn {
  std::optional<Profile> profile;                  // as configured by now; none: no longer
  std::map<std::string, std::string> map_entries;  // by the probe's name
  std::map<std::string, int> lots;                 // latest version on record, of each lot in it

  bool operator==(const ReliedOn&) const = default;
};

// Salt of one lot, or the rest of the last batch with the lots it was made from.
struct SaltPortion {
  BatchSalt salt;  // of this portion alone; expires_in from the batch's begin
  SaltProduct product;
  Grams weighed;  // product noted; none of a rest
  Grams dry;      // anhydrous sea salt
};

// A property of the water that a person measured with a test of their own.
struct HandTest {
  CensoredValue content;       // in the analyte's unit
  PracticalSalinity salinity;  // of the water then
  WallTime at;
  std::string written;  // as it was given: "8.2 dKH"
};

struct Batch {
  std::string id;
  std::string lot;  // name_of(lots)
  // In the order in which they came, the rest first; further salt is taken from the last, unless
  // another lot is named.
  std::vector<SaltPortion> portions;
  BatchSalt lots;  // all portions together
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
  std::map<Analyte, HandTest> hand_tests;  // of the water as it is
  std::optional<Litres> lowest_volume;     // seen since the proof
  Litres evaporated;                       // since the proof: lost without being drawn
  std::optional<Litres> unevaporated;      // what the level would be without that; none while drawn
  Litres drawn;                            // into the tank
  int permits = 0;
  std::vector<Waiver> waivers;  // in force; at most one a check

  [[nodiscard]] bool in_progress() const { return phase != BatchPhase::Empty; }
  [[nodiscard]] bool is_proven() const { return phase >= BatchPhase::Proven; }
};

// Salt of a lot goes into the batch: with what there is of that lot in that version, else as a
// portion of its own. What the batch holds in all is derived afresh.
void add_portion(Batch& batch, SaltPortion portion);
// What was weighed in was this much in all, in the proportions noted.
void correct_weighed(Batch& batch, Grams total);
// Derives lot, lots, product and salt from the portions (at least one).
void remix(Batch& batch);

}  // namespace brinegate
