// SPDX-License-Identifier: Apache-2.0
// A change plan as a function of the new water's content, the tank held: worked out once, then a
// few multiplications for each water that is tried on the tank.
#pragma once

#include <array>

#include "rules/chemistry/exchange.h"
#include "rules/chemistry/propagation.h"
#include "rules/time.h"

namespace brinegate {

constexpr double in_days(Duration time) {
  return seconds(time) / 86'400.0;
}

// What is left after this time without a change.
double left_after(Duration time, double content, Kinetics kinetics, double per_day);

// After so many changes not a thousand-millionth of the start is left; at most most_changes.
int changes_to_settle(const Consumption& consumption, const ChangePlan& plan);

// For one truth: of three straight lines the greatest, without clamping always the first.
class PlanEffect {
 public:
  PlanEffect() = default;
  // `changes` in place of the plan's; may be infinite: the steady state.
  PlanEffect(double start, Kinetics kinetics, double per_day, const ChangePlan& plan,
             double changes);
  [[nodiscard]] double operator()(double new_water) const;
  // The content of new water that leaves this; below 0 where none does. Infinite without changes.
  [[nodiscard]] double new_water_for(double content) const;

 private:
  struct Line {
    double offset = 0.0;
    double slope = 0.0;
  };
  std::array<Line, 3> lines_;
};

// For all that the truth may be.
class PlanOnTank {
 public:
  PlanOnTank(const CensoredValue& start, const Consumption& consumption, const ChangePlan& plan,
             double changes);
  [[nodiscard]] CensoredValue operator()(const CensoredValue& new_water) const;
  // At the middle of the start, and the best estimate of the consumption.
  [[nodiscard]] const PlanEffect& best_estimate() const { return best_; }

 private:
  std::array<PlanEffect, possible_truths.size()> effects_;
  PlanEffect best_;
};

}  // namespace brinegate
