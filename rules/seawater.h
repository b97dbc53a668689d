// SPDX-License-Identifier: Apache-2.0
// Sea water: conductivity, temperature, salinity, density, specific gravity. Sea pressure 0 (one
// atmosphere) throughout; temperatures are ITS-90 and converted to IPTS-68 inside where an equation
// is defined on it (t68 = 1.00024 t90, Saunders 1990).
//
// Sources: PSS-78, UNESCO Technical Papers in Marine Science 44 (1983); below SP 2 Hill, Dauphinee
// & Woods 1986 (IEEE J. Oceanic Eng. 11:109) scaled to meet PSS-78 at SP 2 as in TEOS-10; reference
// salinity Millero et al. 2008; density IAPWS-08 + IAPWS-09 (TEOS-10) at one atmosphere, which is
// the one density of this project wherever litres and grams meet.
#pragma once

#include "rules/reading.h"
#include "rules/units.h"

namespace brinegate {

// Linear temperature compensation of a probe: shown = actual / (1 + alpha (t - reference)).
struct LinearCompensation {
  Celsius reference{25.0};
  double alpha_per_celsius = 0.02;  // common: 0.019 to 0.021
};

// The two temperatures of a specific gravity: density of the water at `sample` over density of pure
// water at `reference`, e.g. 25/25, 20/20, t/4.
struct GravityTemperatures {
  Celsius sample{25.0};
  Celsius reference{25.0};
};

// Good inside the equations' definition (SP 0 to 42, -2 to 35 °C); Uncertain where the number is an
// extrapolation; Bad for nonsense: not finite, negative, above 120 mS/cm, below -5 or above 60 °C.
Quality salinity_quality(MilliSiemensPerCm conductivity, Celsius temperature);

// What a practical salinity may be wrong by (k = 1) because its scale ends at 42: nothing up to
// there, and beyond a tenth of the way. No source tells how far dilution would find another; wide
// on purpose, enough to say that water is too strong and about how much to add.
constexpr PracticalSalinity end_of_practical_salinity{42.0};
constexpr Celsius coldest_of_practical_salinity{-2.0};
constexpr Celsius warmest_of_practical_salinity{35.0};
PracticalSalinity extrapolation_uncertainty(PracticalSalinity salinity);

// Practical salinity of water of this in-situ conductivity, never below 0. Call only where
// salinity_quality is not Bad (asserted).
PracticalSalinity practical_salinity(MilliSiemensPerCm conductivity, Celsius temperature);

// The inverse, to 1e-10 mS/cm, for SP 0 to 60 (a negative salinity is asserted). SP 0 gives the
// 0.001 to 0.002 mS/cm at which the extension meets zero.
MilliSiemensPerCm conductivity(PracticalSalinity salinity, Celsius temperature);

// Partial derivatives of practical_salinity. Below 0.01 mS/cm (SP 0.004), where they lose their
// meaning, those at 0.01 mS/cm.
struct SalinitySensitivity {
  double per_millisiemens_per_cm = 0.0;  // dSP/dC
  double per_celsius = 0.0;              // dSP/dt at constant conductivity
};
SalinitySensitivity salinity_sensitivity(MilliSiemensPerCm conductivity, Celsius temperature);

// Undoes / applies a probe's linear compensation.
MilliSiemensPerCm uncompensated(MilliSiemensPerCm shown, Celsius temperature, LinearCompensation c);
MilliSiemensPerCm compensated(MilliSiemensPerCm in_situ, Celsius temperature, LinearCompensation c);

ReferenceSalinity reference_salinity(PracticalSalinity salinity);
PracticalSalinity practical_salinity(ReferenceSalinity salinity);

// Density at one atmosphere. Valid for SP 0 to 42 and 0 to 40 °C; a smooth extrapolation outside.
KilogramsPerCubicMetre density(PracticalSalinity salinity, Celsius temperature);

double specific_gravity(PracticalSalinity salinity, GravityTemperatures t);
// The inverse, for gravities of water from SP 0 to 60; below fresh water it gives a negative
// salinity, which the caller's range test refuses. What is outside 0.9 to 1.2 counts as that end.
PracticalSalinity salinity_of_gravity(double specific_gravity, GravityTemperatures t);

// Salt per volume: reference salinity times density, g/L.
double salt_grams_per_litre(PracticalSalinity salinity, Celsius temperature);
PracticalSalinity salinity_of_grams_per_litre(double grams_per_litre, Celsius temperature);

}  // namespace brinegate
