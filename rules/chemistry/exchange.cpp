// SPDX-License-Identifier: Apache-2.0
#include "rules/chemistry/exchange.h"

#include <cmath>
#include <limits>

#include "rules/chemistry/plan_effect.h"
#include "rules/chemistry/propagation.h"

namespace brinegate {
namespace {

constexpr double for_ever = std::numeric_limits<double>::infinity();

// A plan on one tank with one water.
class Outlook {
 public:
  Outlook(const CensoredValue& start, const CensoredValue& new_water,
          const Consumption& consumption, const ChangePlan& plan)
      : start_(&start), new_water_(&new_water), consumption_(&consumption), plan_(&plan) {}

  [[nodiscard]] CensoredValue after(double changes) const {
    return changes > 0.0 ? PlanOnTank(*start_, *consumption_, *plan_, changes)(*new_water_)
                         : *start_;
  }
  [[nodiscard]] ExchangePoint point(double changes) const {
    const CensoredValue after_change = after(changes);
    if (plan_->mode == ExchangeMode::Continuous || changes <= 0.0)
      return {after_change, after_change};
    const auto before = [&](const PossibleTruth& truth) {
      const double per_day = per_day_if(*consumption_, truth);
      const PlanEffect earlier(content_if(*start_, &PossibleTruth::start, truth),
                               consumption_->kinetics, per_day, *plan_, changes - 1.0);
      return left_after(plan_->interval,
                        earlier(content_if(*new_water_, &PossibleTruth::new_water, truth)),
                        consumption_->kinetics, per_day);
    };
    return {propagated(before).value, after_change};
  }
  [[nodiscard]] int settled() const { return changes_to_settle(*consumption_, *plan_); }

 private:
  const CensoredValue* start_;
  const CensoredValue* new_water_;
  const Consumption* consumption_;
  const ChangePlan* plan_;
};

// The last change after which it is not `inside` decides.
template <class Inside>
std::optional<int> first_to_stay(const Outlook& outlook, Inside inside) {
  if (!inside(outlook.after(for_ever)))
    return std::nullopt;
  const int settled = outlook.settled();
  int first = settled + 1;
  while (first > 0 && inside(outlook.after(first - 1)))
    --first;
  return first > settled ? std::nullopt : std::optional(first);
}

}  // namespace

std::vector<ExchangePoint> course(const CensoredValue& start, const CensoredValue& new_water,
                                  const Consumption& consumption, const ChangePlan& plan) {
  const Outlook outlook(start, new_water, consumption, plan);
  std::vector<ExchangePoint> points;
  points.reserve(static_cast<std::size_t>(plan.changes));
  for (int change = 1; change <= plan.changes; ++change)
    points.push_back(outlook.point(change));
  return points;
}

ExchangePoint after_changes(const CensoredValue& start, const CensoredValue& new_water,
                            const Consumption& consumption, const ChangePlan& plan) {
  return Outlook(start, new_water, consumption, plan).point(plan.changes);
}

ExchangePoint steady_state(const CensoredValue& new_water, const Consumption& consumption,
                           const ChangePlan& plan) {
  const CensoredValue whatever;
  return Outlook(whatever, new_water, consumption, plan).point(for_ever);
}

InRange changes_until(double low, double high, const CensoredValue& start,
                      const CensoredValue& new_water, const Consumption& consumption,
                      const ChangePlan& plan) {
  const Outlook outlook(start, new_water, consumption, plan);
  const double rounding = 1e-12 * high;  // a steady state on the end of the range is in it
  const auto within = [&](double least, double most) {
    return least >= low - rounding && most <= high + rounding;
  };
  return {first_to_stay(outlook,
                        [&](const CensoredValue& c) { return within(c.middle(), c.middle()); }),
          first_to_stay(outlook,
                        [&](const CensoredValue& c) { return within(c.at_least(), c.at_most()); })};
}

TankStep step_of_change(PracticalSalinity tank_salinity, Celsius tank_temperature,
                        const ChangePlan& plan) {
  const double replaced =
      plan.mode == ExchangeMode::Discrete ? plan.fraction : -std::expm1(-plan.fraction);
  return {replaced * (plan.salinity - tank_salinity),
          replaced * (plan.temperature - tank_temperature)};
}

}  // namespace brinegate
