// SPDX-License-Identifier: Apache-2.0
// How much of an analyte is in water, as an analysis knows it.
#pragma once

namespace brinegate {

// Lies between `low` and `high`: one point where it was measured, from 0 to the detection limit
// where it was looked for and not found ("< 2 µg/L" is not zero). On top of that each end is known
// with this standard uncertainty. In the analyte's unit (rules/chemistry/analyte.h); never
// negative. What mixes and dilutes keeps the interval: its ends are the extremes, whatever the
// truth within.
struct CensoredValue {
  double low = 0.0;
  double high = 0.0;
  double standard_uncertainty = 0.0;

  [[nodiscard]] bool censored() const { return low < high; }
  [[nodiscard]] double middle() const { return 0.5 * (low + high); }
  // All that is not known, the interval as a rectangular distribution (JCGM 100, 4.3.7).
  [[nodiscard]] double total_uncertainty() const;
  // Where the truth lies in 95 of 100 cases: both extremes, each with what is uncertain of it.
  [[nodiscard]] double at_least() const;  // not below 0
  [[nodiscard]] double at_most() const;

  bool operator==(const CensoredValue&) const = default;
};

CensoredValue measured(double value, double standard_uncertainty);
CensoredValue below(double detection_limit);

// Independent of each other. `factor` is not negative.
CensoredValue operator+(const CensoredValue& a, const CensoredValue& b);
CensoredValue operator*(double factor, const CensoredValue& value);

}  // namespace brinegate
