// SPDX-License-Identifier: Apache-2.0
// The equations of sea water at one atmosphere, each with its derivatives where something needs
// them. Coefficients carry the names of the publication they come from.
#include "rules/seawater.h"

#include <algorithm>
#include <array>
#include <cassert>
#include <cmath>
#include <cstddef>

namespace brinegate {
namespace {

constexpr double ipts68_per_its90 = 1.00024;         // Saunders 1990
constexpr double conductivity_of_35_at_15 = 42.914;  // mS/cm at 15 °C IPTS-68, Culkin & Smith 1980
constexpr double grams_per_kg_of_35 = 35.16504;      // Millero et al. 2008
constexpr double end_of_pss78 = 2.0;                 // below this salinity Hill et al. 1986
constexpr double sensitivity_floor = 0.01;           // mS/cm

struct Valued {
  double value = 0.0;
  double slope = 0.0;
};

// c[0] + c[1] x + c[2] x² + ..., and its derivative.
template <std::size_t N>
Valued polynomial(const std::array<double, N>& c, double x) {
  Valued result;
  for (auto k = c.rbegin(); k != c.rend(); ++k) {
    result.slope = result.slope * x + result.value;
    result.value = result.value * x + *k;
  }
  return result;
}

// PSS-78: conductivity ratio of SP 35 at t68 to SP 35 at 15 °C.
constexpr std::array rt35{0.6766097, 2.00564e-2, 1.104259e-4, -6.9698e-7, 1.0031e-9};
// PSS-78: SP = sum a_i x^i + f sum b_i x^i with x = sqrt(Rt), f = (t68 - 15) / (1 + k (t68 - 15)).
constexpr std::array a{0.0080, -0.1692, 25.3851, 14.0941, -7.0261, 2.7081};
constexpr std::array b{0.0005, -0.0056, -0.0066, -0.0375, 0.0636, -0.0144};
constexpr double k = 0.0162;

// What depends on temperature only.
struct AtTemperature {
  Valued rt;  // rt35, per degree IPTS-68
  Valued f;   // per degree IPTS-68
};

AtTemperature at_temperature(Celsius t90) {
  const double t68 = ipts68_per_its90 * t90.value();
  const double denominator = 1.0 + k * (t68 - 15.0);
  return {polynomial(rt35, t68), {(t68 - 15.0) / denominator, 1.0 / (denominator * denominator)}};
}

// A salinity as a function of x = sqrt(Rt) and f, with both partial derivatives.
struct Salinity {
  double value = 0.0;
  double by_x = 0.0;
  double by_f = 0.0;
};

Salinity pss78(double x, double f) {
  const Valued sum_a = polynomial(a, x);
  const Valued sum_b = polynomial(b, x);
  return {sum_a.value + f * sum_b.value, sum_a.slope + f * sum_b.slope, sum_b.value};
}

// PSS-78 less the terms by which Hill et al. take its constants away toward fresh water.
Salinity less_hill_terms(const Salinity& s, double x, double f) {
  const double x400 = 400.0 * x * x;
  const double y = 10.0 * x;
  const double p = 1.0 + x400 * (1.5 + x400);
  const double q = 1.0 + y * (1.0 + y * (1.0 + y));
  const double p_slope = 800.0 * x * (1.5 + 2.0 * x400);
  const double q_slope = 10.0 * (1.0 + y * (2.0 + 3.0 * y));
  return {s.value - a[0] / p - b[0] * f / q,
          s.by_x + a[0] * p_slope / (p * p) + b[0] * f * q_slope / (q * q), s.by_f - b[0] / q};
}

// The factor, a function of f alone, that makes the extension meet PSS-78 at SP 2.
Valued hill_scale(double f) {
  double x = 0.2642;  // within 0.003 of the root at every temperature
  Salinity s;
  for (int i = 0; i < 5; ++i) {
    s = pss78(x, f);
    x -= (s.value - end_of_pss78) / s.by_x;
  }
  const Salinity h = less_hill_terms(s, x, f);
  const double x_by_f = -s.by_f / s.by_x;
  const double scale = end_of_pss78 / h.value;
  return {scale, -scale / h.value * (h.by_x * x_by_f + h.by_f)};
}

Salinity hill(const Salinity& s, double x, double f, Valued scale) {
  const Salinity h = less_hill_terms(s, x, f);
  return {scale.value * h.value, scale.value * h.by_x,
          scale.value * h.by_f + scale.slope * h.value};
}

Salinity salinity_of_root(double x, double f) {
  const Salinity s = pss78(x, f);
  return s.value < end_of_pss78 ? hill(s, x, f, hill_scale(f)) : s;
}

double conductivity_ratio(MilliSiemensPerCm c, const AtTemperature& at) {
  return c.value() / (conductivity_of_35_at_15 * at.rt.value);
}

// Specific volume in 1e-8 m³/kg: the derivative of the Gibbs function by pressure at one
// atmosphere, in which only the terms linear in pressure are left. IAPWS-09 (fresh water, g_j1) and
// IAPWS-08 (salt, g_ij1), y = t / 40 °C, x² = SP / 40.
constexpr std::array water{100015.695367145, -270.983805184062, 1455.0364540468,
                           -672.50778314507, 397.968445406972,  -194.618310617595,
                           63.5113936641785, -9.63108119393062};
constexpr std::array salt2{-3310.49154044839, 729.116529735046, -860.764303783977, 694.244814133268,
                           -297.728741987187};
constexpr std::array salt3{199.459603073901, -175.292041186547, 383.058066002476, -460.319931801257,
                           234.565187611355};
constexpr std::array salt4{-54.7919133532887, -22.6683558512829};
constexpr double salt5 = 36.0284195611086;

// With its slope per SP. Below SP 0 it goes on as the straight line it is there, so that the
// inverse has an answer for readings a little under fresh water.
Valued specific_volume(PracticalSalinity salinity, Celsius t) {
  const double y = t.value() / 40.0;
  const double x2 = salinity.value() / 40.0;
  const double x = std::sqrt(std::max(x2, 0.0));
  const double c2 = polynomial(salt2, y).value;
  const double c3 = polynomial(salt3, y).value;
  const double c4 = polynomial(salt4, y).value;
  const double volume = polynomial(water, y).value + x2 * (c2 + x * (c3 + x * (c4 + x * salt5)));
  const double slope = c2 + x * (1.5 * c3 + x * (2.0 * c4 + x * 2.5 * salt5));
  return {volume, slope / 40.0};
}

double compensation_factor(Celsius temperature, LinearCompensation c) {
  return 1.0 + c.alpha_per_celsius * (temperature - c.reference).value();
}

}  // namespace

Quality salinity_quality(MilliSiemensPerCm conductivity, Celsius temperature) {
  const double c = conductivity.value();
  const double t = temperature.value();
  const bool sense = c >= 0.0 && c <= 120.0 && t >= -5.0 && t <= 60.0;  // false for NaN too
  if (!sense)
    return Quality::Bad;
  if (temperature < coldest_of_practical_salinity || temperature > warmest_of_practical_salinity)
    return Quality::Uncertain;
  return practical_salinity(conductivity, temperature) <= end_of_practical_salinity
             ? Quality::Good
             : Quality::Uncertain;
}

PracticalSalinity extrapolation_uncertainty(PracticalSalinity salinity) {
  return 0.1 * std::max(PracticalSalinity(0.0), salinity - end_of_practical_salinity);
}

PracticalSalinity practical_salinity(MilliSiemensPerCm conductivity, Celsius temperature) {
  assert(conductivity.value() >= 0.0 && std::isfinite(temperature.value()));
  const AtTemperature at = at_temperature(temperature);
  const double x = std::sqrt(conductivity_ratio(conductivity, at));
  // The extension dips below zero by 4e-4 where its conductivity is under 0.002 mS/cm.
  return PracticalSalinity(std::max(0.0, salinity_of_root(x, at.f.value).value));
}

MilliSiemensPerCm conductivity(PracticalSalinity salinity, Celsius temperature) {
  const double wanted = salinity.value();
  assert(wanted >= 0.0 && std::isfinite(temperature.value()));
  const AtTemperature at = at_temperature(temperature);
  const double f = at.f.value;
  const bool below = wanted < end_of_pss78;
  const Valued scale = below ? hill_scale(f) : Valued{};
  // Newton from the right of the root, where the slope only falls toward it.
  double x = std::sqrt(wanted / 35.0) + 0.02;
  for (int i = 0; i < 30; ++i) {
    const Salinity base = pss78(x, f);
    const Salinity s = below ? hill(base, x, f, scale) : base;
    const double step = (s.value - wanted) / s.by_x;
    x -= step;
    if (std::abs(step) <= 1e-15)
      break;
  }
  return MilliSiemensPerCm(x * x * conductivity_of_35_at_15 * at.rt.value);
}

SalinitySensitivity salinity_sensitivity(MilliSiemensPerCm conductivity, Celsius temperature) {
  assert(conductivity.value() >= 0.0 && std::isfinite(temperature.value()));
  const AtTemperature at = at_temperature(temperature);
  const MilliSiemensPerCm c = std::max(conductivity, MilliSiemensPerCm(sensitivity_floor));
  const double ratio = conductivity_ratio(c, at);
  const double x = std::sqrt(ratio);
  const Salinity s = salinity_of_root(x, at.f.value);
  const double by_ratio = s.by_x / (2.0 * x);
  const double by_t68 = by_ratio * -ratio * at.rt.slope / at.rt.value + s.by_f * at.f.slope;
  return {by_ratio * ratio / c.value(), by_t68 * ipts68_per_its90};
}

MilliSiemensPerCm uncompensated(MilliSiemensPerCm shown, Celsius temperature,
                                LinearCompensation c) {
  return shown * compensation_factor(temperature, c);
}

MilliSiemensPerCm compensated(MilliSiemensPerCm in_situ, Celsius temperature,
                              LinearCompensation c) {
  return in_situ / compensation_factor(temperature, c);
}

ReferenceSalinity reference_salinity(PracticalSalinity salinity) {
  return ReferenceSalinity(salinity.value() * grams_per_kg_of_35 / 35.0);
}

PracticalSalinity practical_salinity(ReferenceSalinity salinity) {
  return PracticalSalinity(salinity.value() * 35.0 / grams_per_kg_of_35);
}

KilogramsPerCubicMetre density(PracticalSalinity salinity, Celsius temperature) {
  return KilogramsPerCubicMetre(1e8 / specific_volume(salinity, temperature).value);
}

double specific_gravity(PracticalSalinity salinity, GravityTemperatures t) {
  return density(salinity, t.sample) / density(PracticalSalinity(0.0), t.reference);
}

PracticalSalinity salinity_of_gravity(double specific_gravity, GravityTemperatures t) {
  const double gravity = std::clamp(specific_gravity, 0.9, 1.2);
  const double wanted = specific_volume(PracticalSalinity(0.0), t.reference).value / gravity;
  PracticalSalinity salinity(35.0);
  for (int i = 0; i < 20; ++i) {
    const Valued volume = specific_volume(salinity, t.sample);
    const PracticalSalinity step((volume.value - wanted) / volume.slope);
    salinity -= step;
    if (std::abs(step.value()) <= 1e-13)
      break;
  }
  return salinity;
}

double salt_grams_per_litre(PracticalSalinity salinity, Celsius temperature) {
  return reference_salinity(salinity).value() * density(salinity, temperature).value() / 1000.0;
}

PracticalSalinity salinity_of_grams_per_litre(double grams_per_litre, Celsius temperature) {
  PracticalSalinity salinity(grams_per_litre);
  // Each round leaves less than a tenth of the error: density moves by 0.08 % a unit of salinity.
  for (int i = 0; i < 20; ++i) {
    const double kg_per_litre = density(salinity, temperature).value() / 1000.0;
    const PracticalSalinity before = salinity;
    salinity = practical_salinity(ReferenceSalinity(grams_per_litre / kg_per_litre));
    if (std::abs((salinity - before).value()) < 1e-13)
      break;
  }
  return salinity;
}

}  // namespace brinegate
