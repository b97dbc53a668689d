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
#include "rules/statistics.h"

namespace brinegate {

// One possible truth: an extreme of all that is censored, and how far off its best estimate each
// source is, in its standard uncertainties; upwards is what leaves more.
struct PossibleTruth {
  double CensoredValue::*extreme = &CensoredValue::low;
  double start = 0.0;
  double new_water = 0.0;
  double consumption = 0.0;
};

// Both extremes, and what moves each of them further out.
constexpr std::array<PossibleTruth, 8> possible_truths{{
    {&CensoredValue::low, 0.0, 0.0, 0.0},
    {&CensoredValue::high, 0.0, 0.0, 0.0},
    {&CensoredValue::low, -two_sided_95_percent, 0.0, 0.0},
    {&CensoredValue::high, two_sided_95_percent, 0.0, 0.0},
    {&CensoredValue::low, 0.0, -two_sided_95_percent, 0.0},
    {&CensoredValue::high, 0.0, two_sided_95_percent, 0.0},
    {&CensoredValue::low, 0.0, 0.0, -two_sided_95_percent},
    {&CensoredValue::high, 0.0, 0.0, two_sided_95_percent},
}};
using PossibleResults = std::array<double, possible_truths.size()>;

// A content in that case; what could be negative by its uncertainty alone is not.
inline double content_if(const CensoredValue& value, double PossibleTruth::*source,
                         const PossibleTruth& truth) {
  return std::max(0.0, value.*truth.extreme + truth.*source * value.standard_uncertainty);
}

// The part of the consumption's error that is not the start's, in its standard uncertainties.
inline double own_part(const Consumption& consumption) {
  return std::sqrt(std::max(0.0, 1.0 - consumption.correlation * consumption.correlation));
}

// The consumption a day in that case.
inline double per_day_if(const Consumption& consumption, const PossibleTruth& truth) {
  const double off =
      consumption.correlation * truth.start - own_part(consumption) * truth.consumption;
  const double per_day = consumption.per_day + off * consumption.standard_uncertainty;
  return consumption.kinetics == Kinetics::Proportional ? std::max(0.0, per_day) : per_day;
}

struct Propagated {
  CensoredValue value;
  // Of its standard uncertainty, what each source does.
  double by_start = 0.0;
  double by_new_water = 0.0;
  double by_consumption = 0.0;
};

Propagated propagated(const PossibleResults& results);
// `result` makes a content of a PossibleTruth.
template <class Result>
Propagated propagated(Result result) {
  PossibleResults results{};
  std::transform(possible_truths.begin(), possible_truths.end(), results.begin(), result);
  return propagated(results);
}

}  // namespace brinegate
