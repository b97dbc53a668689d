// SPDX-License-Identifier: Apache-2.0
// How uncertain a content is that follows from others through clamps and powers.
//
// Both extremes of what is censored are carried through as they are: more at the start or in the
// new water never makes less at the end, so they stay the extremes. What is normally distributed
// counts by what a move to the end of its own 95 % interval does to the result, over 1.96; the
// parts are independent and add in quadrature (JCGM 100, 5.1.2 and note 2 of 5.1.3). Where the
// result goes straight with its sources that is exact; where it clamps it holds on the side that
// does not.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>

#include "rules/chemistry/content.h"
#include "rules/chemistry/exchange.h"

namespace brinegate {

// One possible truth: an extreme of all that is censored, and how far off its best estimate each
// source is, in its standard uncertainties; upwards is what leaves more.
struct PossibleTruth {
  double CensoredValue::*extreme = &CensoredValue::low;
  double start = 0.0;
  double new_water = 0.0;
  double consumption = 0.0;
};

// A content in that case; what could be negative by its uncertainty alone is not.
inline double content_if(const CensoredValue& value, double PossibleTruth::*source,
                         const PossibleTruth& truth) {
  return std::max(0.0, value.*truth.extreme + truth.*source * value.standard_uncertainty);
}

// The consumption a day in that case. The part that errs together with the start goes with it.
inline double per_day_if(const Consumption& consumption, const PossibleTruth& truth) {
  const double own = std::sqrt(1.0 - consumption.correlation * consumption.correlation);
  const double off = consumption.correlation * truth.start - own * truth.consumption;
  const double per_day = consumption.per_day + off * consumption.standard_uncertainty;
  return consumption.kinetics == Kinetics::Proportional ? std::max(0.0, per_day) : per_day;
}

// `result` makes a content of a PossibleTruth.
template <class Result>
CensoredValue propagated(Result result) {
  PossibleTruth least{&CensoredValue::low};
  PossibleTruth most{&CensoredValue::high};
  CensoredValue value{result(least), result(most), 0.0};
  for (const auto source :
       {&PossibleTruth::start, &PossibleTruth::new_water, &PossibleTruth::consumption}) {
    least.*source = -normal_95;
    most.*source = normal_95;
    const double down = std::abs(value.low - result(least));
    const double up = std::abs(result(most) - value.high);
    value.standard_uncertainty =
        std::hypot(value.standard_uncertainty, std::max(down, up) / normal_95);
    least.*source = most.*source = 0.0;
  }
  return value;
}

}  // namespace brinegate
