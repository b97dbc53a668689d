// SPDX-License-Identifier: Apache-2.0
#include "rules/dissolution.h"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <numbers>

#include "rules/statistics.h"

namespace brinegate {
namespace {

// Shares of the slowest time constant: the steps of the grid, the fast parts (with the mixing and
// the lag of the cell), the length of a slot, the correlation time of a cell's wander, and how long
// the thermometer is averaged.
constexpr double slow_ratio = 1.5;
constexpr std::array fast_shares = {1.0 / 213, 1.0 / 107, 1.0 / 53, 1.0 / 27};
constexpr double slot_share = 1.0 / 320;
constexpr double wander_share = 0.15;
constexpr double least_averaging = 1.0 / 80;
constexpr double most_averaging = 3.0 / 16;

// What may be before anything is seen: standard deviations in PSU, wide for what a course soon
// shows. The slow part is a tenth of all salt or next to nothing (common practice, no source).
constexpr double final_deviation = 45.0;
constexpr std::array fast_deviations = {45.0, 45.0, 30.0, 10.0};
struct SlowPart {
  double mean;
  double deviation;
  double weight;
};
constexpr std::array slow_parts = {SlowPart{2.5, 2.5, 1.0}, SlowPart{0.4, 0.4, 0.2}};
constexpr double rate_deviation = 0.15;  // of a slow part's own rate from its grid point's
constexpr double resumed_deviation = 2.0;
constexpr double diluted_deviation = 5.0;

// Instruments (common practice, no source). A quiet cell's wander and a restless one's, PSU.
constexpr std::array wanders = {0.004, 0.025};
constexpr double psu_per_celsius = 0.775;        // dSP/dt at SP 35, 25 °C (PSS-78)
constexpr double lag = 60.0 * psu_per_celsius;   // of a thermometer behind its cell, 60 s
constexpr double compensation_deviation = 0.02;  // PSU / °C
constexpr double celsius_averaged = 0.1;         // a coarse display's step
constexpr double step_share = 0.2;               // of its variance that a step may leave behind
constexpr double least_variance = 4e-6;          // PSU^2, of a slot
constexpr double unmixed = 0.1;                  // share of a slot's change that is not yet even
constexpr double white_weight = 0.1;
// An open reservoir's evaporation, 0.27 g/h and litre, and what it may differ by.
constexpr double evaporation_per_second = 2.7e-6;  // PSU
constexpr double evaporation_deviation = 0.00025;  // PSU per square root of a second

// The rival explanation: a smaller slow part and a salinity that follows the temperature.
constexpr double follows_deviation = 1.0;       // PSU / °C
constexpr double follows_slow_deviation = 0.3;  // PSU
constexpr double follows_prior = 0.05;          // beside 1 for each of the others
constexpr std::size_t rival_step = 3;           // every third of the grid is enough for it

constexpr int few = 4;            // observations before anything is said
constexpr double outlier = 3.5;   // normalized innovation, from where a slot weighs less
constexpr double clip = 4.0;      // most that one slot adds to the sums
constexpr double slack = 1.0;     // what the sums forgive each slot
constexpr double surprise = 8.0;  // a sum that is no chance any more
constexpr double negligible_weight = 1e-6;
constexpr double largest_exponent = 600.0;

double normal_below(double z) {
  return 0.5 * std::erfc(-z / std::numbers::sqrt2);
}

// Mean and standard deviation of a mixture.
class Mixture {
 public:
  void add(double weight, double mean, double variance) {
    weights_ += weight;
    sum_ += weight * mean;
    squares_ += weight * (squared(mean) + variance);
  }
  [[nodiscard]] double mean() const { return sum_ / weights_; }
  [[nodiscard]] double deviation() const {
    return std::sqrt(std::max(0.0, squares_ / weights_ - squared(mean())));
  }

 private:
  double weights_ = 0.0;
  double sum_ = 0.0;
  double squares_ = 0.0;
};

}  // namespace

Dissolution::Dissolution(Duration slowest, PracticalSalinity allowed)
    : slot_length_(from_seconds(seconds(slowest) * slot_share)),
      allowed_(allowed.value()),
      temperature_(celsius_averaged, from_seconds(seconds(slowest) * least_averaging),
                   from_seconds(seconds(slowest) * most_averaging)) {
  assert(slowest > Duration::zero());
  double time_constant = seconds(slowest);
  for (double& slow : slow_seconds_) {
    slow = time_constant;
    time_constant /= slow_ratio;
  }
  for (std::size_t i = 0; i < fast_count; ++i)
    fast_seconds_[i] = fast_shares[i] * seconds(slowest);
}

void Dissolution::restart() {
  bank_.clear();
  slot_ = {};
  observed_.reset();
  observations_ = 0;
  drifted_up_ = drifted_down_ = 0.0;
  temperature_.reset();
  forecast_ = {};
}

void Dissolution::mix_in(double deviation) {
  for (Filter& filter : bank_)
    for (std::size_t i = Fast; i < states; ++i)
      filter.covariance[i][i] += squared(deviation);
  observations_ = std::min(observations_, 1);
  forecast_ = {};
}

void Dissolution::dilute() {
  mix_in(diluted_deviation);
  for (Filter& filter : bank_)
    filter.covariance[Final][Final] += squared(diluted_deviation);
}

void Dissolution::resume() {
  mix_in(resumed_deviation);
}

void Dissolution::add(const SalinityPoint& point) {
  if (slot_.count > 0.0 && point.at - slot_began_ >= slot_length_)
    close_slot();
  temperature_.add(point.at, point.temperature.value());
  const double celsius = temperature_.level();
  // As if the averaged temperature had been read.
  const double salinity =
      point.salinity.value() + point.per_celsius * (celsius - point.temperature.value());
  if (slot_.count == 0.0) {
    slot_began_ = point.at;
    slot_.first = salinity;
  }
  const double x = salinity - slot_.first;
  slot_.count += 1.0;
  slot_.sum_of_seconds += seconds(point.at - slot_began_);
  slot_.sum += x;
  slot_.sum_of_squares += x * x;
  slot_.sum_of_celsius += celsius;
}

void Dissolution::close_slot() {
  const MonoTime at = slot_began_ + from_seconds(slot_.sum_of_seconds / slot_.count);
  const Observation o = observation_of(slot_, at);
  Vector h{};
  h[Final] = 1.0;
  h[Slow] = -1.0;
  h[Wander] = 1.0;
  h[Lag] = o.celsius_per_second;
  h[Compensation] = o.celsius;
  std::fill(h.begin() + Fast, h.end(), -1.0);
  ++observations_;
  predict(o);
  compare(o, h);
  update(o, h);
  summarize();
  observed_ = at;
  slot_ = {};
}

Dissolution::Observation Dissolution::observation_of(const Slot& slot, MonoTime at) {
  const double n = slot.count;
  Observation o;
  o.salinity = slot.first + slot.sum / n;
  const double celsius = slot.sum_of_celsius / n;
  if (bank_.empty()) {
    begin(o.salinity);
    last_salinity_ = o.salinity;
    first_celsius_ = last_celsius_ = celsius;
    white_variance_ = 0.0;
  }
  o.elapsed = observed_ ? seconds(at - *observed_) : 0.0;
  o.celsius = celsius - first_celsius_;
  o.celsius_per_second = temperature_.per_second();
  o.celsius_step = celsius - last_celsius_ - o.celsius_per_second * o.elapsed;
  const double change = o.salinity - last_salinity_;
  if (n > 1.0) {
    const double scatter = (slot.sum_of_squares - squared(slot.sum) / n) / (n - 1.0);
    // The slope within the slot is no noise.
    const double white = std::max(0.0, scatter - squared(change) / 12.0);
    white_variance_ += (white - white_variance_) * (observations_ == 0 ? 1.0 : white_weight);
  }
  o.variance = least_variance + white_variance_ / n + squared(unmixed * change);
  last_salinity_ = o.salinity;
  last_celsius_ = celsius;
  return o;
}

Dissolution::Filter Dissolution::first_filter(double salinity) const {
  Filter filter;
  filter.mean[Final] = salinity;
  filter.covariance[Final][Final] = squared(final_deviation);
  filter.covariance[Lag][Lag] = squared(lag);
  filter.covariance[Rate][Rate] = squared(rate_deviation);
  for (std::size_t i = 0; i < fast_count; ++i)
    filter.covariance[Fast + i][Fast + i] = squared(fast_deviations[i]);
  return filter;
}

void Dissolution::begin(double salinity) {
  bank_.clear();
  for (const double wander : wanders) {
    for (const SlowPart& part : slow_parts) {
      Filter filter = first_filter(salinity + part.mean);
      filter.wander = wander;
      filter.covariance[Wander][Wander] = squared(wander);
      filter.mean[Slow] = part.mean;
      filter.covariance[Slow][Slow] = squared(part.deviation);
      filter.covariance[Compensation][Compensation] = squared(compensation_deviation);
      filter.log_weight = std::log(part.weight);
      for (filter.slow = 0; filter.slow < slow_count; ++filter.slow)
        bank_.push_back(filter);
    }
  }
  Filter rival = first_filter(salinity);
  rival.follows_temperature = true;
  rival.covariance[Slow][Slow] = squared(follows_slow_deviation);
  rival.covariance[Compensation][Compensation] = squared(follows_deviation);
  rival.log_weight = std::log(follows_prior);
  for (const double wander : wanders) {
    rival.wander = wander;
    rival.covariance[Wander][Wander] = squared(wander);
    for (rival.slow = 0; rival.slow < slow_count; rival.slow += rival_step)
      bank_.push_back(rival);
  }
}

void Dissolution::predict(const Observation& o) {
  Vector kept{};
  kept.fill(1.0);
  kept[Wander] = std::exp(-o.elapsed / (wander_share * slow_seconds_.front()));
  for (std::size_t i = 0; i < fast_count; ++i)
    kept[Fast + i] = std::exp(-o.elapsed / fast_seconds_[i]);
  std::array<double, slow_count> slow_kept{};
  for (std::size_t i = 0; i < slow_count; ++i)
    slow_kept[i] = std::exp(-o.elapsed / slow_seconds_[i]);
  for (Filter& filter : bank_) {
    kept[Slow] = slow_kept[filter.slow];
    predict_one(filter, o, kept);
  }
}

void Dissolution::predict_one(Filter& filter, const Observation& o, const Vector& kept) const {
  auto& p = filter.covariance;
  for (std::size_t i = 0; i < states; ++i) {
    filter.mean[i] *= kept[i];
    for (std::size_t j = 0; j < states; ++j)
      p[i][j] *= kept[i] * kept[j];
  }
  // The slow part's own rate, to first order (extended Kalman filter).
  const double per_rate = filter.mean[Slow] * o.elapsed / slow_seconds_[filter.slow];
  filter.mean[Slow] -= per_rate * filter.mean[Rate];
  for (std::size_t j = 0; j < states; ++j)
    p[Slow][j] -= per_rate * p[Rate][j];
  for (std::size_t j = 0; j < states; ++j)
    p[j][Slow] -= per_rate * p[j][Rate];

  filter.mean[Final] += evaporation_per_second * o.elapsed;
  p[Final][Final] += squared(evaporation_deviation) * o.elapsed;
  p[Wander][Wander] += squared(filter.wander) * (1.0 - squared(kept[Wander]));
  // A coarse thermometer's step moves the salinity that is computed with it.
  p[Wander][Wander] =
      std::max(p[Wander][Wander], step_share * squared(psu_per_celsius * o.celsius_step));
}

// How the observation compares with what the bank expected of it, before it is taken in.
void Dissolution::compare(const Observation& o, const Vector& h) {
  double best = -1e300;
  for (const Filter& filter : bank_)
    best = std::max(best, filter.log_weight);
  Mixture expected;
  for (const Filter& filter : bank_) {
    double mean = 0.0;
    double variance = o.variance;
    for (std::size_t i = 0; i < states; ++i) {
      mean += h[i] * filter.mean[i];
      for (std::size_t j = 0; j < states; ++j)
        variance += h[i] * filter.covariance[i][j] * h[j];
    }
    expected.add(std::exp(filter.log_weight - best), mean - o.salinity, variance);
  }
  const double spread = std::max(1e-6, expected.deviation());
  const double innovation = -expected.mean() / spread;
  // One slot that bubbles have pulled down weighs little; a lasting shift shows in the sums.
  const double excess = std::max(1.0, std::abs(innovation) / outlier);
  outlier_variance_ = (squared(excess) - 1.0) * squared(spread);
  watch(innovation, o.salinity);
}

void Dissolution::watch(double innovation, double salinity) {
  if (observations_ <= few)
    return;
  const double clipped = std::clamp(innovation, -clip, clip);
  drifted_up_ = std::max(0.0, drifted_up_ + clipped - slack);
  drifted_down_ = std::max(0.0, drifted_down_ - clipped - slack);
  if (std::max(drifted_up_, drifted_down_) < surprise)
    return;
  ++surprises_;
  observations_ = 1;
  drifted_up_ = drifted_down_ = 0.0;
  outlier_variance_ = 0.0;
  begin(salinity);
}

void Dissolution::update(const Observation& o, const Vector& h) {
  double best = -1e300;
  for (Filter& filter : bank_) {
    auto& p = filter.covariance;
    Vector gain{};
    double residual = o.salinity;
    double variance = o.variance + outlier_variance_;
    for (std::size_t i = 0; i < states; ++i) {
      for (std::size_t j = 0; j < states; ++j)
        gain[i] += p[i][j] * h[j];
      residual -= h[i] * filter.mean[i];
      variance += h[i] * gain[i];
    }
    for (std::size_t i = 0; i < states; ++i) {
      filter.mean[i] += gain[i] * residual / variance;
      for (std::size_t j = 0; j < states; ++j)
        p[i][j] -= gain[i] * gain[j] / variance;
    }
    filter.log_weight -= 0.5 * (std::log(variance) + squared(residual) / variance);
    best = std::max(best, filter.log_weight);
  }
  for (Filter& filter : bank_)
    filter.log_weight -= best;
}

Dissolution::Estimate Dissolution::combined(const Filter& filter, const Vector& weights) {
  Estimate estimate;
  for (std::size_t i = 0; i < states; ++i) {
    if (weights[i] == 0.0)
      continue;
    estimate.mean += weights[i] * filter.mean[i];
    for (std::size_t j = 0; j < states; ++j)
      estimate.variance += weights[i] * filter.covariance[i][j] * weights[j];
  }
  return estimate;
}

void Dissolution::summarize() {
  double best = -1e300;
  for (const Filter& filter : bank_)
    if (!filter.follows_temperature)
      best = std::max(best, filter.log_weight);
  Vector remains{};
  remains[Slow] = 1.0;
  std::fill(remains.begin() + Fast, remains.end(), 1.0);
  // As read at the present temperature: less the lag and the wander, which pass.
  Vector ends{};
  ends[Final] = 1.0;
  ends[Compensation] = last_celsius_ - first_celsius_;
  Vector is = ends;
  for (std::size_t i = 0; i < states; ++i)
    is[i] -= remains[i];
  Mixture now;
  Mixture final;
  Mixture remaining;
  double weights = 0.0;
  double settled = 0.0;
  for (const Filter& filter : bank_) {
    const double weight = std::exp(filter.log_weight - best);
    if (filter.follows_temperature || weight < negligible_weight)
      continue;
    const Estimate here = combined(filter, is);
    const Estimate end = combined(filter, ends);
    const Estimate left = combined(filter, remains);
    now.add(weight, here.mean, here.variance);
    final.add(weight, end.mean, end.variance);
    remaining.add(weight, left.mean, left.variance);
    const double u = std::sqrt(std::max(1e-12, left.variance));
    weights += weight;
    settled += weight * (normal_below((allowed_ - left.mean) / u) -
                         normal_below((-allowed_ - left.mean) / u));
  }
  forecast_.known = observations_ >= few;
  forecast_.now = PracticalSalinity(now.mean());
  forecast_.now_uncertainty = now.deviation();
  forecast_.final = PracticalSalinity(final.mean());
  forecast_.final_uncertainty = final.deviation();
  forecast_.remaining = remaining.mean();
  forecast_.remaining_uncertainty = remaining.deviation();
  forecast_.settled_probability = forecast_.known ? settled / weights : 0.0;
  forecast_.course_agrees =
      observations_ > few && std::max(drifted_up_, drifted_down_) < 0.5 * surprise;
  summarize_temperature(best);
  summarize_time_left(best);
}

void Dissolution::summarize_temperature(double best) {
  double by_salt = 0.0;
  double by_temperature = 0.0;
  Mixture per_celsius;
  for (const Filter& filter : bank_) {
    const double weight = std::exp(std::min(filter.log_weight - best, largest_exponent));
    (filter.follows_temperature ? by_temperature : by_salt) += weight;
    if (filter.follows_temperature)
      per_celsius.add(std::max(weight, 1e-300), filter.mean[Compensation], 0.0);
  }
  forecast_.follows_temperature_probability = by_temperature / (by_temperature + by_salt);
  forecast_.per_celsius = per_celsius.mean();
}

// By each filter, until each of its parts has come down to what is allowed.
void Dissolution::summarize_time_left(double best) {
  Mixture left;
  for (const Filter& filter : bank_) {
    const double weight = std::exp(filter.log_weight - best);
    if (filter.follows_temperature || weight < negligible_weight)
      continue;
    double time = 0.0;
    double variance = 0.0;
    const double slow = std::abs(filter.mean[Slow]);
    if (slow > allowed_) {
      const double time_constant = slow_seconds_[filter.slow];
      time = time_constant * std::log(slow / allowed_);
      variance = squared(time_constant / slow) * std::max(0.0, filter.covariance[Slow][Slow]);
    }
    for (std::size_t i = 0; i < fast_count; ++i) {
      const double fast = std::abs(filter.mean[Fast + i]);
      if (fast > allowed_)
        time = std::max(time, fast_seconds_[i] * std::log(fast / allowed_));
    }
    left.add(weight, time, variance);
  }
  const double margin = one_sided_95_percent * left.deviation();
  forecast_.time_left = from_seconds(left.mean());
  forecast_.time_left_low = from_seconds(std::max(0.0, left.mean() - margin));
  forecast_.time_left_high = from_seconds(left.mean() + margin);
}

}  // namespace brinegate
