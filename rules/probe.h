// SPDX-License-Identifier: Apache-2.0
// What a probe is and how its raw samples become values and are tested. Filled in by the
// configuration; the defaults of each quantity stand in default_probe_limits().
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "rules/seawater.h"
#include "rules/time.h"

namespace brinegate {

// What a probe measures, and the unit in which its judged values stand everywhere in rules/.
enum class Measures {
  Conductivity,             // mS/cm in situ
  CompensatedConductivity,  // mS/cm at the compensation's reference temperature
  Salinity,                 // PSU
  SpecificGravity,          // ratio at the probe's gravity temperatures
  Temperature,              // °C
  Level,                    // litres in the reservoir
  Flow,                     // L/min through the pump
  TankLevel,                // litres in the tank
  DrainFlow,                // L/min out of the tank, through its drain
  Circulation,              // 1 = the reservoir's water is being circulated ("running")
  PumpRunning,              // 1 = the gated pump has power (the output's read-back)
  Leak,                     // 1 = wet where it must be dry
  ReservoirLow,             // 1 = an independent contact says the reservoir is low
  TankHigh,                 // 1 = an independent contact says the tank is full
  HeldOff,                  // 1 = the tank's top-off and dosing say that they are held off
  DrainRunning,             // 1 = the drain has power (its output's read-back)
};

// A contact: reads 0 or 1.
constexpr bool is_contact(Measures m) {
  return m >= Measures::Circulation;
}
// One from which a salinity follows.
constexpr bool is_salinity_cell(Measures m) {
  return m <= Measures::SpecificGravity;
}

// Raw number -> value in the unit of `Measures`: scale and offset (the unit conversion is folded
// in), then for levels given as a height the strapping table, linear between its rows and clamped
// to none: outside the table the value is extrapolated from the last two rows and fails its range.
struct Conversion {
  double scale = 1.0;
  double offset = 0.0;
  std::vector<std::pair<double, double>> table;  // strictly rising in both columns, or empty
};
double converted(const Conversion& conversion, double raw);

// Tests on samples, named as in QARTOD. Units: those of Measures.
struct SampleLimits {
  double gross_low = 0.0;
  double gross_high = 0.0;
  bool zero_is_fault = false;       // exactly 0.0 never occurs in honest water
  std::optional<double> air_below;  // a cell below this after it was immersed hangs in air
  std::optional<double> spike;      // a jump larger than this must be confirmed by the next
  std::optional<double> rate_per_second;
  std::optional<Duration> flat_line_after;  // this long without the slightest change
};
SampleLimits default_sample_limits(Measures measures, double capacity_litres);

// Standard uncertainty (JCGM 100, k = 1): sqrt(absolute^2 + (relative * value)^2).
struct ProbeUncertainty {
  double absolute = 0.0;
  double relative = 0.0;
};
double standard_uncertainty(const ProbeUncertainty& uncertainty, double value);
ProbeUncertainty default_probe_uncertainty(Measures measures);  // of a fresh calibration
ProbeUncertainty default_probe_drift(Measures measures);        // for each day since

struct ProbeSpec {
  std::string name;
  Measures measures = Measures::Conductivity;
  Conversion conversion;
  SampleLimits limits;
  ProbeUncertainty uncertainty;    // of its calibration
  ProbeUncertainty drift_per_day;  // what each day since the calibration adds to that
  double resolution = 0.0;         // step of what it shows; 0: only what is seen counts
  Duration stale_after = std::chrono::seconds(5);
  std::optional<std::size_t> temperature_from;  // index of the temperature probe of this cell
  LinearCompensation compensation;              // CompensatedConductivity only
  GravityTemperatures gravity;                  // SpecificGravity only
  bool simulated = false;                       // its source says it is a simulator or a replay
  // All that makes the numbers of its source mean what they mean, as one line (S15, S22). What was
  // made with one line does not hold with another.
  std::string map_entry;
  bool on_register_map = false;
};

}  // namespace brinegate
