// SPDX-License-Identifier: Apache-2.0
#include "rules/chemistry/ranking.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "rules/chemistry/plan_effect.h"
#include "rules/statistics.h"

namespace brinegate {
namespace {

double distance(double content, const ContentRange& range, double scale) {
  const double outside = std::max({0.0, range.low - content, content - range.high});
  return scale > 0.0 ? outside / scale : 0.0;
}

struct Distance {
  double value = 0.0;
  double standard_uncertainty = 0.0;  // by the lot's assay
};

// A wanted analyte with the plan worked out for it.
struct Candidate {
  Analyte analyte;
  Wanted wanted;
  double scale;
  std::optional<TankContent> tank;
  PlanOnTank plan;

  [[nodiscard]] bool matters() const { return wanted.weight > 0.0 || wanted.never_above; }
  [[nodiscard]] bool may_decide() const { return tank && wanted.weight > 0.0; }
  [[nodiscard]] double distance_with(double new_water) const {
    return distance(plan.best_estimate()(new_water), wanted.range, scale);
  }
  [[nodiscard]] Distance distance_with(const CensoredValue& new_water) const {
    const double middle = new_water.middle();
    const double off = two_sided_95_percent * new_water.total_uncertainty();
    const double best = distance_with(middle);
    const double less = std::abs(distance_with(std::max(0.0, middle - off)) - best);
    const double more = std::abs(distance_with(middle + off) - best);
    return {best, std::max(less, more) / two_sided_95_percent};
  }
  [[nodiscard]] std::optional<Veto> veto_of(const CensoredValue& new_water) const {
    const double limit = wanted.range.high;
    if (!wanted.never_above || new_water.at_most() <= limit)
      return std::nullopt;
    CensoredValue after = plan(new_water);
    if (after.at_most() <= limit)
      return std::nullopt;
    Veto veto{VetoReason::AboveLimit, analyte, after.at_most(), limit};
    after.high = after.low;
    if (after.at_most() <= limit)
      veto.reason = VetoReason::DetectionLimitAboveLimit;
    return veto;
  }
};

std::vector<Candidate> candidates_of(const Tank& tank, const ChangePlan& plan, WallTime at) {
  std::vector<Candidate> candidates;
  for (const AnalyteRow& row : analytes()) {
    const auto wanted = wanted_of(tank, row.analyte);
    if (!wanted)
      continue;
    const auto now = content_now(tank, row.analyte, at);
    const TankContent start = now.value_or(TankContent{{}, consumption_of(tank, row.analyte)});
    candidates.push_back({row.analyte, *wanted, scale_of(wanted->range), now,
                          PlanOnTank(start.content, start.consumption, plan, plan.changes)});
  }
  return candidates;
}

// How far every lot leaves every candidate that it names.
class Table {
 public:
  Table(std::span<const Candidate> candidates, std::size_t lots)
      : candidates_(candidates), distances_(lots * candidates.size()), named_(candidates.size()) {}

  void fill(RankedLot& ranked, const Lot& lot, const ChangePlan& plan, WallTime at) {
    if (lot.expires && *lot.expires < at)
      ranked.vetoes.push_back({VetoReason::Expired, std::nullopt, 0.0, 0.0});
    const Composition composition = composition_of(lot.assay);
    for (std::size_t i = 0; i < candidates_.size(); ++i) {
      const Candidate& candidate = candidates_[i];
      const auto new_water = content_at(plan.salinity, composition, candidate.analyte);
      if (!new_water)
        continue;
      ++named_[i];
      distances_[ranked.lot * candidates_.size() + i] = candidate.distance_with(*new_water);
      if (const auto veto = candidate.veto_of(*new_water))
        ranked.vetoes.push_back(*veto);
    }
  }
  [[nodiscard]] std::size_t named(std::size_t candidate) const { return named_[candidate]; }
  // Over the candidates that decide, with their weights over all weights.
  void score(RankedLot& ranked, std::span<const double> weights) const {
    double squares = 0.0;
    for (std::size_t i = 0; i < weights.size(); ++i) {
      const Distance& one = distances_[ranked.lot * candidates_.size() + i];
      ranked.score += weights[i] * one.value;
      const double part = weights[i] * one.standard_uncertainty;
      squares += part * part;
    }
    ranked.standard_uncertainty = std::sqrt(squares);
  }

 private:
  std::span<const Candidate> candidates_;
  std::vector<Distance> distances_;
  std::vector<std::size_t> named_;
};

// Of each candidate over all that decide; 0 for those that do not.
std::vector<double> shares_of_weight(std::span<const Candidate> candidates,
                                     std::span<const Analyte> decided_by) {
  std::vector<double> shares;
  double whole = 0.0;
  for (const Candidate& candidate : candidates) {
    const bool decides =
        std::find(decided_by.begin(), decided_by.end(), candidate.analyte) != decided_by.end();
    shares.push_back(decides && candidate.may_decide() ? candidate.wanted.weight : 0.0);
    whole += shares.back();
  }
  for (double& share : shares)
    share = whole > 0.0 ? share / whole : 0.0;
  return shares;
}

constexpr double rounding = 1e-9;

bool told_apart(const RankedLot& a, const RankedLot& b) {
  return a.vetoes.empty() != b.vetoes.empty() ||
         std::abs(a.score - b.score) >
             two_sided_95_percent * std::hypot(a.standard_uncertainty, b.standard_uncertainty) +
                 rounding;
}

// Rounded, so that the last digits, which depend on the unit a value was written in, decide
// nothing; of equals the better known one leads, since others are told from it.
std::array<double, 3> order_of(const RankedLot& lot) {
  return {lot.vetoes.empty() ? 0.0 : 1.0, std::round(lot.score / rounding),
          std::round(lot.standard_uncertainty / rounding)};
}

void give_places(std::vector<RankedLot>& lots) {
  std::stable_sort(lots.begin(), lots.end(), [](const RankedLot& a, const RankedLot& b) {
    return order_of(a) < order_of(b);
  });
  std::size_t first_of_place = 0;
  for (std::size_t i = 0; i < lots.size(); ++i) {
    if (told_apart(lots[first_of_place], lots[i]))
      first_of_place = i;
    lots[i].place = static_cast<int>(first_of_place) + 1;
    lots[i].ties_with_first = !told_apart(lots.front(), lots[i]);
  }
}

}  // namespace

double scale_of(const ContentRange& range) {
  const double width = range.high - range.low;
  if (std::isinf(width))
    return 0.1 * range.low;
  return width > 0.0 ? 0.5 * width : 0.1 * range.high;
}

Ranking rank_lots(const Tank& tank, std::span<const Lot> lots, const ChangePlan& plan,
                  WallTime at) {
  const std::vector<Candidate> candidates = candidates_of(tank, plan, at);
  Ranking ranking;
  ranking.lots.resize(lots.size());
  Table table(candidates, lots.size());
  for (std::size_t i = 0; i < lots.size(); ++i) {
    ranking.lots[i].lot = i;
    table.fill(ranking.lots[i], lots[i], plan, at);
  }
  for (std::size_t i = 0; i < candidates.size(); ++i) {
    const Candidate& candidate = candidates[i];
    if (!candidate.matters())
      continue;
    if (!candidate.tank)
      ranking.not_tested.push_back(candidate.analyte);
    if (table.named(i) < lots.size())
      ranking.not_in_every_lot.push_back(candidate.analyte);
    else if (candidate.may_decide())
      ranking.decided_by.push_back(candidate.analyte);
  }
  const std::vector<double> weights = shares_of_weight(candidates, ranking.decided_by);
  for (RankedLot& ranked : ranking.lots)
    table.score(ranked, weights);
  give_places(ranking.lots);
  return ranking;
}

std::vector<RankedAnalyte> opened(const Tank& tank, const Lot& lot,
                                  std::span<const Analyte> decided_by, const ChangePlan& plan,
                                  WallTime at) {
  const std::vector<Candidate> candidates = candidates_of(tank, plan, at);
  const std::vector<double> weights = shares_of_weight(candidates, decided_by);
  const Composition composition = composition_of(lot.assay);
  std::vector<RankedAnalyte> all;
  for (std::size_t i = 0; i < candidates.size(); ++i) {
    const Candidate& candidate = candidates[i];
    const auto new_water = content_at(plan.salinity, composition, candidate.analyte);
    if (!new_water || !candidate.tank)
      continue;
    const double far = candidate.distance_with(*new_water).value;
    all.push_back({candidate.analyte, candidate.tank->content, *new_water,
                   candidate.plan(*new_water), candidate.wanted, far, weights[i] * far});
  }
  return all;
}

std::vector<Deciding> what_decides(const Tank& tank, const Lot& lot, const Lot& best,
                                   std::span<const Analyte> decided_by, const ChangePlan& plan,
                                   WallTime at) {
  const std::vector<Candidate> candidates = candidates_of(tank, plan, at);
  const std::vector<double> weights = shares_of_weight(candidates, decided_by);
  const Composition of_lot = composition_of(lot.assay);
  const Composition of_best = composition_of(best.assay);
  std::vector<Deciding> deciding;
  for (std::size_t i = 0; i < candidates.size(); ++i) {
    const Candidate& candidate = candidates[i];
    const auto mine = content_at(plan.salinity, of_lot, candidate.analyte);
    const auto other = content_at(plan.salinity, of_best, candidate.analyte);
    if (!mine || !other)
      continue;
    const double cost =
        weights[i] * (candidate.distance_with(*mine).value - candidate.distance_with(*other).value);
    if (cost <= 0.0)
      continue;
    const PlanEffect& effect = candidate.plan.best_estimate();
    const ContentRange& range = candidate.wanted.range;
    const double end = effect(mine->middle()) < range.low ? range.low : range.high;
    deciding.push_back({candidate.analyte, cost, mine->middle(), effect.new_water_for(end)});
  }
  std::stable_sort(deciding.begin(), deciding.end(),
                   [](const Deciding& a, const Deciding& b) { return a.cost > b.cost; });
  return deciding;
}

}  // namespace brinegate
