// SPDX-License-Identifier: Apache-2.0
// What water changes do to the content of a tank.
//
// A change replaces the fraction f: c' = (1 - f) c + f m. Between changes, so before the first, the
// tank uses or is given something: at a constant rate, or in proportion to what is there. A
// continuous exchange of the fraction V/Vt goes on beside that: dc/dt = (m - c) V/Vt - consumption,
// which without consumption leaves c = m + (c0 - m) exp(-V/Vt) (perfect mixing). Volume and density
// of the tank are taken as constant. A content cannot fall below 0: what is used up at a constant
// rate is used up no further.
//
// Every change maps the content by a straight line of slope below 1 that is cut off from below, so
// the content goes one way only, towards the steady state, clamped or not; and n changes have a
// closed form.
//
// Uncertainty: rules/chemistry/propagation.h. The new water is the same in all changes, and so is
// its error; the same holds for the consumption.
#pragma once

#include <optional>
#include <vector>

#include "rules/chemistry/content.h"
#include "rules/time.h"
#include "rules/units.h"

namespace brinegate {

// A day's change of a content by everything but water changes: living things, precipitation,
// dosing. A positive rate lowers the content.
enum class Kinetics { ConstantRate, Proportional };
struct Consumption {
  Kinetics kinetics = Kinetics::ConstantRate;
  double per_day = 0.0;  // the analyte's unit a day; Proportional: share of the content a day, >= 0
  double standard_uncertainty = 0.0;  // of per_day
  // Of the error of per_day with that of the content that it is applied to, -1 to 1: a test that is
  // too high makes less of the consumption that it was used to estimate.
  double correlation = 0.0;

  bool operator==(const Consumption&) const = default;
};

enum class ExchangeMode { Discrete, Continuous };

constexpr int most_changes = 10'000;

struct ChangePlan {
  ExchangeMode mode = ExchangeMode::Discrete;
  double fraction = 0.1;  // of the tank's volume: at each change, or in each interval; above 0, and
                          // at most 1 where discrete
  Duration interval = std::chrono::hours(7 * 24);  // the first change comes one interval from now
  int changes = 1;                                 // or intervals; 0 to most_changes
  PracticalSalinity salinity{35.0};                // of the new water
  Celsius temperature{25.0};                       // of the new water

  bool operator==(const ChangePlan&) const = default;
};

struct ExchangePoint {
  CensoredValue before;  // just before the change; continuous, or without a change: as `after`
  CensoredValue after;
};

// From `start`, which is now, over plan.changes intervals: one point for each.
std::vector<ExchangePoint> course(const CensoredValue& start, const CensoredValue& new_water,
                                  const Consumption& consumption, const ChangePlan& plan);
// After all of the changes, without the points between; the same as course().back().
ExchangePoint after_changes(const CensoredValue& start, const CensoredValue& new_water,
                            const Consumption& consumption, const ChangePlan& plan);
// What the plan tends to if it goes on for ever.
ExchangePoint steady_state(const CensoredValue& new_water, const Consumption& consumption,
                           const ChangePlan& plan);

struct InRange {
  // The first change after which the best estimate is in the range and stays there, however long
  // the plan goes on; 0: it is now and stays. Nothing: never (or not within most_changes).
  std::optional<int> changes;
  // The same for the 95 % interval as a whole.
  std::optional<int> surely;
};
// `low` <= `high`, both in. The plan's own number of changes is of no matter.
InRange changes_until(double low, double high, const CensoredValue& start,
                      const CensoredValue& new_water, const Consumption& consumption,
                      const ChangePlan& plan);

// What one change, or one interval, moves in the tank.
struct TankStep {
  PracticalSalinity salinity;  // after less before
  Celsius temperature;
};
TankStep step_of_change(PracticalSalinity tank_salinity, Celsius tank_temperature,
                        const ChangePlan& plan);

}  // namespace brinegate
