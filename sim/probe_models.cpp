// SPDX-License-Identifier: Apache-2.0
#include "sim/probe_models.h"

#include <algorithm>
#include <cmath>

#include "rules/seawater.h"

namespace brinegate::sim {
namespace {

constexpr double noisy_factor = 50.0;
constexpr PracticalSalinity most_salinity{60.0};  // conductivity() is defined up to here
// Purified water still conducts a little, so an honest cell never shows exactly zero (common
// practice, no source).
constexpr MilliSiemensPerCm purified_water{0.005};

double remembered(Duration dt, Duration time_constant) {
  return time_constant > Duration::zero() ? std::exp(-seconds(dt) / seconds(time_constant)) : 0.0;
}

}  // namespace

ProbeTraits conductivity_traits() {
  ProbeTraits traits;
  traits.lag = std::chrono::seconds(8);
  traits.noise = 0.0005;
  traits.relative_noise = 0.0002;
  traits.wander = 0.0004;
  traits.wander_time = std::chrono::minutes(20);
  traits.resolution = 0.001;
  traits.in_air = 0.02;
  traits.bubbles_per_hour = 6.0;
  traits.bubble_time = std::chrono::milliseconds(1500);
  traits.bubble_depth = 0.4;
  return traits;
}

ProbeTraits temperature_traits() {
  ProbeTraits traits;
  traits.lag = std::chrono::seconds(20);
  traits.noise = 0.01;
  traits.resolution = 0.01;
  traits.in_air = 20.0;
  return traits;
}

ProbeTraits level_traits() {
  ProbeTraits traits;
  traits.lag = std::chrono::seconds(1);
  traits.noise = 0.3;
  traits.resolution = 1.0;
  return traits;
}

MilliSiemensPerCm true_conductivity(const Reservoir& reservoir, Place place) {
  const PracticalSalinity salinity =
      place == Place::Bulk ? reservoir.salinity() : reservoir.corner_salinity();
  return std::max(purified_water,
                  conductivity(std::min(salinity, most_salinity), reservoir.temperature()));
}

ProbeModel::ProbeModel(const ProbeTraits& traits, double truth)
    : traits_(traits), lagged_(truth), shown_(truth * traits.gain + traits.offset) {}

void ProbeModel::set_fault(ProbeFault fault, double lying_factor) {
  fault_ = fault;
  lying_factor_ = fault == ProbeFault::Lying ? lying_factor : 1.0;
}

// Bubbles come and go as a two-state Markov chain, solved for the end of the step, so that a step
// may be as long as it likes.
double ProbeModel::bubble_factor(Duration dt, Random& random) {
  if (traits_.bubbles_per_hour <= 0.0)
    return 1.0;
  const double comes = traits_.bubbles_per_hour / 3600.0;
  const double goes = 1.0 / seconds(traits_.bubble_time);
  const double usual = comes / (comes + goes);
  const double before = in_bubble_ ? 1.0 : 0.0;
  const double now = usual + (before - usual) * std::exp(-(comes + goes) * seconds(dt));
  in_bubble_ = uniform(random, 0.0, 1.0) < now;
  return in_bubble_ ? 1.0 - traits_.bubble_depth * uniform(random, 0.0, 1.0) : 1.0;
}

void ProbeModel::step(Duration dt, double truth, Random& random) {
  lagged_ = truth + (lagged_ - truth) * remembered(dt, traits_.lag);
  const double kept = remembered(dt, traits_.wander_time);
  wandered_ = normal(random, wandered_ * kept, traits_.wander * std::sqrt(1.0 - kept * kept));
  const double clean = (lagged_ * traits_.gain + traits_.offset) * (1.0 + wandered_) *
                       bubble_factor(dt, random) * lying_factor_;
  const double value = fault_ == ProbeFault::InAir ? traits_.in_air : clean;
  const double noise = (traits_.noise + traits_.relative_noise * value) *
                       (fault_ == ProbeFault::Noisy ? noisy_factor : 1.0);
  double shown = normal(random, value, noise);
  if (traits_.resolution > 0.0)
    shown = std::round(shown / traits_.resolution) * traits_.resolution;
  if (fault_ != ProbeFault::Flat)
    shown_ = std::max(0.0, shown);
}

std::optional<double> ProbeModel::shown() const {
  if (fault_ == ProbeFault::Silent)
    return std::nullopt;
  return shown_;
}

}  // namespace brinegate::sim
