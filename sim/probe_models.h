// SPDX-License-Identifier: Apache-2.0
// How a probe turns the truth at its place into what it shows: lag, gain, noise, bubbles,
// resolution, and the ways in which it fails. No clock; chance comes from the generator passed in.
#pragma once

#include <optional>

#include "rules/time.h"
#include "rules/units.h"
#include "sim/random.h"
#include "sim/reservoir.h"

namespace brinegate::sim {

enum class ProbeFault {
  Silent,       // shows nothing at all
  InAir,        // shows what it shows out of the water
  Flat,         // frozen at what it last showed
  Lying,        // by a factor, steadily
  WordSwapped,  // right, but its two words are sent in the other order
  Noisy,
  None,
};

// In the unit of what it shows. The sizes are invented.
struct ProbeTraits {
  double gain = 1.0;
  double offset = 0.0;
  Duration lag{0};              // first-order time constant
  double noise = 0.0;           // white, standard deviation
  double relative_noise = 0.0;  // the same, as a share of the value
  double wander = 0.0;          // slow drift of the gain, standard deviation as a share ...
  Duration wander_time{0};      // ... and its correlation time
  double resolution = 0.0;      // 0: none
  double in_air = 0.0;          // what it shows out of the water
  double bubbles_per_hour = 0.0;
  Duration bubble_time{0};    // mean length of one
  double bubble_depth = 0.0;  // share of the value that the worst bubble takes away
};

ProbeTraits conductivity_traits();  // mS/cm
ProbeTraits temperature_traits();   // °C
ProbeTraits level_traits();         // mm

enum class Place { Corner, Bulk };

// In-situ conductivity of the water where a cell hangs, as far as the equations reach.
MilliSiemensPerCm true_conductivity(const Reservoir& reservoir, Place place);

class ProbeModel {
 public:
  // Starts settled on the truth.
  ProbeModel(const ProbeTraits& traits, double truth);

  void step(Duration dt, double truth, Random& random);
  void set_fault(ProbeFault fault, double lying_factor = 1.0);

  [[nodiscard]] ProbeFault fault() const { return fault_; }
  [[nodiscard]] double lying_factor() const { return lying_factor_; }
  [[nodiscard]] std::optional<double> shown() const;

 private:
  double bubble_factor(Duration dt, Random& random);

  ProbeTraits traits_;
  double lagged_;
  double wandered_ = 0.0;
  bool in_bubble_ = false;
  double shown_;
  ProbeFault fault_ = ProbeFault::None;
  double lying_factor_ = 1.0;
};

}  // namespace brinegate::sim
