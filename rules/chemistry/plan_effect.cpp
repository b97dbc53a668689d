// SPDX-License-Identifier: Apache-2.0
#include "rules/chemistry/plan_effect.h"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <limits>

namespace brinegate {
namespace {

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

}  // namespace

double left_after(Duration time, double content, Kinetics kinetics, double per_day) {
  return Use(kinetics, per_day, time).left_of(content);
}

int changes_to_settle(const Consumption& consumption, const ChangePlan& plan) {
  const Step step({consumption.kinetics, consumption.per_day, plan.interval}, plan);
  constexpr double ln_of_nothing = -21.0;  // 1e-9
  return static_cast<int>(std::min<double>(most_changes, std::ceil(ln_of_nothing / step.ln_kept)));
}

// With A(c) = kept c + gain a change makes max(floor, A(c)), and as A never falls, n changes make
// max(A^n(c), A^(n-1)(floor), ..., A(floor), floor), of which those between lie between the ends.
PlanEffect::PlanEffect(double start, Kinetics kinetics, double per_day, const ChangePlan& plan,
                       double changes) {
  assert(plan.fraction > 0.0);
  assert(plan.fraction <= 1.0 || plan.mode == ExchangeMode::Continuous);
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

double PlanEffect::new_water_for(double content) const {
  double least = std::numeric_limits<double>::infinity();
  for (const Line& line : lines_)
    if (line.slope > 0.0)
      least = std::min(least, (content - line.offset) / line.slope);
  return least;
}

PlanOnTank::PlanOnTank(const CensoredValue& start, const Consumption& consumption,
                       const ChangePlan& plan, double changes)
    : best_(start.middle(), consumption.kinetics, consumption.per_day, plan, changes) {
  for (std::size_t i = 0; i < effects_.size(); ++i) {
    const PossibleTruth& truth = possible_truths[i];
    effects_[i] = PlanEffect(content_if(start, &PossibleTruth::start, truth), consumption.kinetics,
                             per_day_if(consumption, truth), plan, changes);
  }
}

CensoredValue PlanOnTank::operator()(const CensoredValue& new_water) const {
  PossibleResults results{};
  for (std::size_t i = 0; i < effects_.size(); ++i)
    results[i] = effects_[i](content_if(new_water, &PossibleTruth::new_water, possible_truths[i]));
  return propagated(results).value;
}

}  // namespace brinegate
