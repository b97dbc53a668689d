// SPDX-License-Identifier: Apache-2.0
#include "rules/chemistry/exchange.h"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <limits>

#include "rules/chemistry/propagation.h"

namespace brinegate {
namespace {

constexpr double for_ever = std::numeric_limits<double>::infinity();

// What is used in an interval: content -> kept * content - taken, not below 0.
struct Use {
  double exponent = 0.0;  // -ln(kept)
  double taken = 0.0;

  Use(Kinetics kinetics, double per_day, Duration interval) {
    (kinetics == Kinetics::Proportional ? exponent : taken) = per_day * in_days(interval);
  }
  [[nodiscard]] double left_of(double content) const {
    return std::max(0.0, std::exp(-exponent) * content - taken);
  }
};

// One interval with its change: content -> kept * content + gain(m), not below floor(m), of new
// water that holds m.
struct Step {
  double ln_kept = 0.0;
  double gain = 0.0;  // of it, what does not come with the new water
  double gain_per_new_water = 0.0;
  double floor_per_new_water = 0.0;

  Step(const Use& use, const ChangePlan& plan) {
    const double fraction = plan.fraction;
    if (plan.mode == ExchangeMode::Discrete) {
      constexpr double as_good_as_nothing = -1e6;  // finite, so that nought times it is nought
      ln_kept = std::max(as_good_as_nothing, std::log1p(-fraction)) - use.exponent;
      gain = -(1.0 - fraction) * use.taken;
      gain_per_new_water = floor_per_new_water = fraction;
    } else {
      ln_kept = -(fraction + use.exponent);
      const double mean_kept = std::expm1(ln_kept) / ln_kept;  // of what comes in, over an interval
      gain = -use.taken * mean_kept;
      gain_per_new_water = fraction * mean_kept;
    }
  }
  [[nodiscard]] double kept_after(double changes) const { return std::exp(changes * ln_kept); }
  // The sum of kept^i over as many changes.
  [[nodiscard]] double gains_after(double changes) const {
    return std::expm1(changes * ln_kept) / std::expm1(ln_kept);
  }
};

// A plan on one tank.
class Outlook {
 public:
  Outlook(const CensoredValue& start, const CensoredValue& new_water,
          const Consumption& consumption, const ChangePlan& plan)
      : start_(&start), new_water_(&new_water), consumption_(&consumption), plan_(&plan) {
    assert(plan.fraction > 0.0);
    assert(plan.fraction <= 1.0 || plan.mode == ExchangeMode::Continuous);
  }

  [[nodiscard]] CensoredValue after(double changes) const {
    if (changes <= 0.0)
      return *start_;
    return propagated([&](const PossibleTruth& truth) { return after(changes, truth); }).value;
  }
  [[nodiscard]] ExchangePoint point(double changes) const {
    const CensoredValue after_change = after(changes);
    if (plan_->mode == ExchangeMode::Continuous || changes <= 0.0)
      return {after_change, after_change};
    const auto before = [&](const PossibleTruth& truth) {
      return left_after(plan_->interval, after(changes - 1.0, truth), consumption_->kinetics,
                        per_day_if(*consumption_, truth));
    };
    return {propagated(before).value, after_change};
  }
  // After so many changes nothing to speak of is left of the start.
  [[nodiscard]] int settled() const {
    const Step step({consumption_->kinetics, consumption_->per_day, plan_->interval}, *plan_);
    constexpr double ln_of_nothing = -21.0;  // 1e-9
    return static_cast<int>(
        std::min<double>(most_changes, std::ceil(ln_of_nothing / step.ln_kept)));
  }

 private:
  [[nodiscard]] double after(double changes, const PossibleTruth& truth) const {
    const double start = content_if(*start_, &PossibleTruth::start, truth);
    const PlanEffect effect(start, consumption_->kinetics, per_day_if(*consumption_, truth), *plan_,
                            changes);
    return effect(content_if(*new_water_, &PossibleTruth::new_water, truth));
  }

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

// With A(c) = kept c + gain a change makes max(floor, A(c)), and as A never falls, n changes make
// max(A^n(c), A^(n-1)(floor), ..., A(floor), floor), of which those between lie between the ends.
PlanEffect::PlanEffect(double start, Kinetics kinetics, double per_day, const ChangePlan& plan,
                       double changes) {
  if (changes <= 0.0) {
    lines_.fill({start, 0.0});
    return;
  }
  const Step step({kinetics, per_day, plan.interval}, plan);
  const double gains = step.gains_after(changes);
  const double earlier_gains = step.gains_after(changes - 1.0);
  const double earlier_kept = step.kept_after(changes - 1.0);
  lines_[0] = {step.kept_after(changes) * start + gains * step.gain,
               gains * step.gain_per_new_water};
  lines_[1] = {earlier_gains * step.gain,
               earlier_kept * step.floor_per_new_water + earlier_gains * step.gain_per_new_water};
  lines_[2] = {0.0, step.floor_per_new_water};
}

double PlanEffect::operator()(double new_water) const {
  const auto at = [&](const Line& line) { return line.offset + line.slope * new_water; };
  return std::max({at(lines_[0]), at(lines_[1]), at(lines_[2])});
}

double left_after(Duration time, double content, Kinetics kinetics, double per_day) {
  return Use(kinetics, per_day, time).left_of(content);
}

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
