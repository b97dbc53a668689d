// SPDX-License-Identifier: Apache-2.0
// Which lot does a tank most good: what a plan with each would leave of every analyte, held against
// what is wanted.
//
// The distance of an analyte is 0 inside its range, outside how far it is from the nearer end over
// half of the range's width (a range without width: over a tenth of its end). A lot's score is the
// mean of the distances weighted by the keeper's weights, over all analytes that are wanted and
// known of the tank and of every lot in the comparison; 0 is best. An analyte that some lot does
// not name decides nothing and is listed. Uncertainties of the tank's tests shift all lots alike
// and are not counted between them, those of the assays are (JCGM 100, 5.1 and 5.2).
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "rules/chemistry/exchange.h"
#include "rules/chemistry/lot.h"
#include "rules/chemistry/tank.h"

namespace brinegate {

struct RankedAnalyte {
  Analyte analyte = Analyte::Alkalinity;
  CensoredValue tank;       // before
  CensoredValue new_water;  // of this lot, at the plan's salinity
  CensoredValue after;      // after the last change
  Wanted wanted;
  double distance = 0.0;        // after the plan
  double share_of_score = 0.0;  // distance times weight over all weights
};

enum class VetoReason { AboveLimit, DetectionLimitAboveLimit, Expired };
struct Veto {
  VetoReason reason = VetoReason::AboveLimit;
  std::optional<Analyte> analyte;
  double content = 0.0;  // after the plan, at most
  double limit = 0.0;
};

struct RankedLot {
  std::size_t lot = 0;  // index of the lots given
  int place = 0;        // 1 is best; lots that cannot be told apart share one
  double score = 0.0;
  double standard_uncertainty = 0.0;  // of the score, by the assay
  bool ties_with_first = false;       // not told from the first with 95 % confidence
  std::vector<Veto> vetoes;           // a vetoed lot stands behind all others
};

// An analyte that holds a lot back from being the best: what it would have to be.
struct Deciding {
  Analyte analyte = Analyte::Alkalinity;
  double cost = 0.0;  // its share of the difference of the scores
  double new_water = 0.0;
  double would_need = 0.0;  // content of the new water from which its distance would be 0; may be
                            // out of reach (below 0)
};

struct Ranking {
  std::vector<RankedLot> lots;            // best first; among equals as given
  std::vector<Analyte> decided_by;        // in the catalogue's order
  std::vector<Analyte> not_in_every_lot;  // wanted, but some lot does not name it
  std::vector<Analyte> not_tested;        // wanted, but the tank has no test of it
};

// `at` is when the plan begins. Lots without a composition in common with what is wanted all tie.
Ranking rank_lots(const Tank& tank, std::span<const Lot> lots, const ChangePlan& plan, WallTime at);

// One lot opened into its analytes; also those that decide nothing, with share 0.
std::vector<RankedAnalyte> opened(const Tank& tank, const Lot& lot, const ChangePlan& plan,
                                  WallTime at);
// What would make `lot` score as `best` does: the analytes that cost it most, dearest first.
std::vector<Deciding> what_decides(const Tank& tank, const Lot& lot, const Lot& best,
                                   const ChangePlan& plan, WallTime at);

}  // namespace brinegate
