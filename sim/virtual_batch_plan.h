// SPDX-License-Identifier: Apache-2.0
// Everything that chance decides about one virtual batch, drawn from a seed: the water, the salt,
// the room, the instruments and what people do in between. The ranges are invented, of the size
// that a keeper meets.
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "rules/mass_balance.h"
#include "rules/profile.h"
#include "rules/seawater.h"
#include "rules/time.h"
#include "rules/units.h"
#include "sim/probe_models.h"
#include "sim/reservoir.h"

namespace brinegate::sim {

enum class BatchKind {
  UnderSalted,    // further below the target than tolerance and uncertainty together ...
  OverSalted,     // ... or above; good instruments, every gram noted
  OneLyingCell,   // one cell of two is off by more than its stated uncertainty
  OnlyCellLying,  // there is but one, and it is
  Anything,       // whatever the ranges give, instruments within their stated uncertainty
  Good,           // right dose, undisturbed, good instruments: must be proven
};

// How an instrument's error is distributed.
enum class ErrorLaw {
  Within,  // within one stated standard uncertainty
  // Both of these have the stated standard uncertainty.
  Rectangular,  // within a data sheet's limits of sqrt(3) standard uncertainties, JCGM 100 4.3.7
  Normal,       // a calibration's, with its tails
};

struct Pause {
  Duration from{0};
  Duration until{0};
};

// Salt or fresh water that comes into the reservoir later. Times count from the batch's begin.
struct LateAddition {
  Duration at{0};
  std::optional<SaltAddition> salt;
  Litres water;
  bool noted = false;
};

// A conductivity cell and where it hangs.
struct CellPlan {
  ProbeTraits traits;  // mS/cm, in situ or as it shows it
  Place place = Place::Bulk;
  std::optional<LinearCompensation> compensation;  // what it does to what it shows
  LinearCompensation believed;                     // what the keeper configured
};

struct VirtualBatchPlan {
  std::uint64_t seed = 0;
  BatchKind kind = BatchKind::Anything;
  Profile profile;

  ReservoirSpec reservoir;
  Litres water;
  Celsius cold;       // of the water at the begin
  Celsius set_point;  // of the heater
  std::optional<Duration> heater_fails;
  Duration salt_at{0};
  std::vector<SaltAddition> salt;  // a clump is an addition of its own
  SaltProduct product;             // as it is
  SaltProduct believed;            // as the keeper knows it
  std::optional<Grams> noted;      // none: the keeper says nothing
  std::vector<Pause> pauses;       // of the circulation
  std::vector<LateAddition> late;  // in the order of time

  std::vector<CellPlan> cells;  // one or two
  double lie = 1.0;             // factor by which the first cell lies beyond its uncertainty
  double salt_factor = 1.0;     // salinity over what conductivity implies
  ProbeTraits bath;             // °C
  ProbeTraits level;            // L
  Duration sample_period{0};
  std::vector<Pause> gaps;  // of the bus: no sample arrives
};

VirtualBatchPlan draw_plan(std::uint64_t seed, BatchKind kind, ErrorLaw errors = ErrorLaw::Within);

}  // namespace brinegate::sim
