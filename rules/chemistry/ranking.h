// SPDX-License-Identifier: Apache-2.0
// Which lot does a tank most good: what a plan with each would leave of every analyte, held against
// what is wanted.
//
// The distance of an analyte is 0 inside its range, outside how far it is from the nearer end over
// half of the range's width (a range without width, or without an upper end: over a tenth of its
// end; a range of 0 alone has no scale and no distance), at the best estimate of the content. A
// lot's score is the mean of the distances weighted by the keeper's weights, over all analytes that
// are wanted and known of the tank and of every lot in the comparison; 0 is best. An analyte that
// some lot does not name decides nothing and is listed.
//
// Uncertainty: an analyte's distance counts by what it changes when the lot's content moves to the
// end of its 95 % interval, on the side that changes it more, over 1.96; the analytes add in
// quadrature (JCGM 100, 5.1.2 and note 2 of 5.1.3). Uncertainties of the tank's tests shift all
// lots alike and are not counted between them. Two lots are told apart when their scores differ by
// more than 1.96 standard uncertainties of the difference, with the analyses as independent; lots
// that are not tie.
//
// Veto: an analyte that may never be above its range and that the lot may bring there: its new
// water may hold more than the limit, and so may the tank after the plan (at most, 95 %). What is
// above only because the tank is, is not held against a lot that lowers it. A tank whose content is
// not known is taken as holding none, so that only what the lot alone brings counts.
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

// AboveLimit also if all that was below detection were 0.
enum class VetoReason { AboveLimit, DetectionLimitAboveLimit, Expired };
struct Veto {
  VetoReason reason = VetoReason::AboveLimit;
  std::optional<Analyte> analyte;
  double content = 0.0;  // after the plan, at most
  double limit = 0.0;

  bool operator==(const Veto&) const = default;
};

struct RankedLot {
  std::size_t lot = 0;  // index of the lots given
  int place = 0;        // 1 is best; lots not told from the first of a place share it
  double score = 0.0;
  double standard_uncertainty = 0.0;  // of the score, by the assay
  bool ties_with_first = false;  // not told from the first with 95 % confidence; the first does
  std::vector<Veto> vetoes;      // a vetoed lot stands behind all others
};

// An analyte that holds a lot back from being the best: what it would have to be.
struct Deciding {
  Analyte analyte = Analyte::Alkalinity;
  double cost = 0.0;  // its share of the difference of the scores, above 0
  double new_water = 0.0;
  double would_need = 0.0;  // content of the new water from which its distance would be 0; may be
                            // out of reach (below 0)
};

struct Ranking {
  std::vector<RankedLot> lots;            // best first; among equals the better known
  std::vector<Analyte> decided_by;        // in the catalogue's order
  std::vector<Analyte> not_in_every_lot;  // wanted, but some lot does not name it
  std::vector<Analyte> not_tested;        // wanted, but the tank has no test of it, or none since a
                                          // change with water that is not known
};

// What a distance is measured in, in the analyte's unit; 0: the range has no scale.
double scale_of(const ContentRange& range);

// `at` is when the plan begins. Lots without a composition in common with what is wanted all tie.
// 10,000 lots of 40 analytes: well below 0.1 s and 20 MB beside the lots (tests/bench).
Ranking rank_lots(const Tank& tank, std::span<const Lot> lots, const ChangePlan& plan, WallTime at);

// One lot opened into the analytes that it shares with what is wanted and known of the tank; those
// that decide (Ranking::decided_by) have shares that add up to its score.
std::vector<RankedAnalyte> opened(const Tank& tank, const Lot& lot,
                                  std::span<const Analyte> decided_by, const ChangePlan& plan,
                                  WallTime at);
// What would make `lot` score as `best` does: the analytes that cost it most, dearest first.
std::vector<Deciding> what_decides(const Tank& tank, const Lot& lot, const Lot& best,
                                   std::span<const Analyte> decided_by, const ChangePlan& plan,
                                   WallTime at);

}  // namespace brinegate
