// SPDX-License-Identifier: Apache-2.0
// Physical quantities as types: a number that knows its unit. Construction is explicit, so the unit
// is written where the number enters; arithmetic stays within one unit.
#pragma once

#include <compare>

namespace brinegate {

template <class Tag>
class Quantity {
 public:
  constexpr Quantity() = default;
  constexpr explicit Quantity(double value) : value_(value) {}

  [[nodiscard]] constexpr double value() const { return value_; }

  constexpr auto operator<=>(const Quantity&) const = default;
  constexpr Quantity operator-() const { return Quantity(-value_); }
  constexpr Quantity& operator+=(Quantity other) {
    value_ += other.value_;
    return *this;
  }
  constexpr Quantity& operator-=(Quantity other) {
    value_ -= other.value_;
    return *this;
  }
  friend constexpr Quantity operator+(Quantity a, Quantity b) {
    return Quantity(a.value_ + b.value_);
  }
  friend constexpr Quantity operator-(Quantity a, Quantity b) {
    return Quantity(a.value_ - b.value_);
  }
  friend constexpr Quantity operator*(Quantity a, double k) { return Quantity(a.value_ * k); }
  friend constexpr Quantity operator*(double k, Quantity a) { return a * k; }
  friend constexpr Quantity operator/(Quantity a, double k) { return Quantity(a.value_ / k); }
  friend constexpr double operator/(Quantity a, Quantity b) { return a.value_ / b.value_; }

 private:
  double value_ = 0.0;
};

using Celsius = Quantity<struct CelsiusTag>;                      // °C, ITS-90
using PracticalSalinity = Quantity<struct PracticalSalinityTag>;  // PSS-78, a pure number ("PSU")
using ReferenceSalinity = Quantity<struct ReferenceSalinityTag>;  // g/kg (TEOS-10 S_R; trade's ppt)
using MilliSiemensPerCm = Quantity<struct MilliSiemensPerCmTag>;  // mS/cm, in situ unless said
using KilogramsPerCubicMetre = Quantity<struct KilogramsPerCubicMetreTag>;
using Litres = Quantity<struct LitresTag>;
using LitresPerMinute = Quantity<struct LitresPerMinuteTag>;
using Grams = Quantity<struct GramsTag>;

// The best estimate of a quantity and its standard uncertainty (JCGM 100, k = 1).
template <class Q>
struct Uncertain {
  Q value;
  Q standard_uncertainty;
};
// The true value lies so far from the estimate at most, in 95 of 100 cases of normal error.
template <class Q>
constexpr Q half_interval_95(const Uncertain<Q>& q) {
  return 1.96 * q.standard_uncertainty;
}

}  // namespace brinegate
