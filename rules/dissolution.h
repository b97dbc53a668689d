// SPDX-License-Identifier: Apache-2.0
// Where the salinity goes: a forecast from the course so far.
//
// Salt dissolves in a fast and a slow part and mixes with some lag, so that the salinity runs as
// S(t) = F - a exp(-t/slow) - sum of b_i exp(-t/fast_i). Given the slow time constant this is
// linear and a Kalman filter follows F, a and b exactly (Kalman 1960, J. Basic Eng. 82:35); a bank
// of them with slow time constants over a grid runs side by side, each refines its own, and each
// weighs as much as its forecasts came true (multiple-model estimation, Magill 1965, IEEE Trans.
// Automat. Contr. 10:434). The mixture is the forecast and its spread the honest doubt: as long as
// a slow part cannot be told from none, both are in it. Beside the salt each filter allows for
// evaporation, for the slow wander of a cell, for a thermometer that lags while the water warms and
// for a small error of temperature compensation.
//
// Samples are averaged into short slots and the bank sees one value a slot, so that the cost hardly
// depends on the sample rate and a bubble weighs little.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <vector>

#include "rules/time.h"
#include "rules/trend.h"
#include "rules/units.h"

namespace brinegate {

// All about the course: what shifts a whole course, such as calibration, is not in it.
// Uncertainties are standard ones (k = 1).
struct Forecast {
  bool known = false;  // there is enough of a course to say anything
  PracticalSalinity now;
  double now_uncertainty = 0.0;  // PSU
  PracticalSalinity final;
  double final_uncertainty = 0.0;      // PSU
  double remaining = 0.0;              // PSU; final less now
  double remaining_uncertainty = 0.0;  // PSU
  double settled_probability = 0.0;    // that no more remains than is allowed
  bool course_agrees = false;          // the latest samples fell where they were expected
  // Until no more remains than is allowed, and the bounds of its 90 % interval.
  Duration time_left{0};
  Duration time_left_low{0};
  Duration time_left_high{0};
  // That the salinity follows the temperature instead of the salt, and by how much.
  double follows_temperature_probability = 0.0;
  double per_celsius = 0.0;  // PSU / °C
};

// One value of circulated water.
struct SalinityPoint {
  MonoTime at;
  PracticalSalinity salinity;
  Celsius temperature;
  double per_celsius = 0.0;  // PSU / °C, by which the salinity depends on the temperature's reading
};

class Dissolution {
 public:
  // `slowest`: the longest time constant to reckon with, above zero (asserted). `allowed`: how much
  // may remain.
  Dissolution(Duration slowest, PracticalSalinity allowed);

  // Times rise; a gap is bridged.
  void add(const SalinityPoint& point);
  // Salt was added, or the probe was elsewhere: what comes now is not what was followed.
  void restart();
  // Fresh water was added: it mixes in, and the salt goes on dissolving as before.
  void dilute();
  // The water stood still until now: what gathered at the bottom mixes in.
  void resume();

  // As of the latest slot that is full.
  [[nodiscard]] const Forecast& forecast() const { return forecast_; }
  // How often the course showed that something unannounced had come, and the forecast began anew.
  [[nodiscard]] int surprises() const { return surprises_; }

 private:
  static constexpr std::size_t slow_count = 9;
  static constexpr std::size_t fast_count = 4;
  static constexpr std::size_t states = 6 + fast_count;
  // In PSU, but for Lag (PSU s / °C), Compensation (PSU / °C) and Rate (a share).
  enum State : std::size_t { Final, Slow, Wander, Lag, Compensation, Rate, Fast };
  using Vector = std::array<double, states>;

  struct Filter {
    std::size_t slow = 0;  // index of its time constant
    double wander = 0.0;   // PSU, standard deviation
    bool follows_temperature = false;
    double log_weight = 0.0;
    Vector mean{};
    std::array<Vector, states> covariance{};
  };
  struct Slot {
    double count = 0.0;
    double sum_of_seconds = 0.0;  // since its begin
    double first = 0.0;           // PSU; keeps the sums small
    double sum = 0.0;
    double sum_of_squares = 0.0;
    double sum_of_celsius = 0.0;
  };
  struct Observation {
    double elapsed = 0.0;   // s since the last
    double salinity = 0.0;  // PSU
    double variance = 0.0;  // PSU^2, of this value alone
    double celsius = 0.0;   // since the course began
    double celsius_per_second = 0.0;
    double celsius_step = 0.0;  // off its trend
  };
  struct Estimate {
    double mean = 0.0;
    double variance = 0.0;
  };

  void mix_in(double deviation);
  void begin(double salinity);
  [[nodiscard]] Filter first_filter(double salinity) const;
  void close_slot();
  [[nodiscard]] Observation observation_of(const Slot& slot, MonoTime at);
  void predict(const Observation& o);
  void predict_one(Filter& filter, const Observation& o, const Vector& kept) const;
  void compare(const Observation& o, const Vector& h);
  void update(const Observation& o, const Vector& h);
  void watch(double innovation, double salinity);
  [[nodiscard]] static Estimate combined(const Filter& filter, const Vector& weights);
  void summarize();
  void summarize_temperature(double best);
  void summarize_time_left(double best);

  Duration slot_length_;
  double allowed_;
  std::array<double, slow_count> slow_seconds_{};
  std::array<double, fast_count> fast_seconds_{};
  std::vector<Filter> bank_;

  Trend temperature_;
  Slot slot_;
  MonoTime slot_began_;
  std::optional<MonoTime> observed_;
  int observations_ = 0;
  double last_salinity_ = 0.0;
  double first_celsius_ = 0.0;
  double last_celsius_ = 0.0;
  double white_variance_ = 0.0;  // PSU^2, of one sample
  double outlier_variance_ = 0.0;
  double drifted_up_ = 0.0;  // cumulative sums of the innovations (Page 1954, Biometrika 41:100)
  double drifted_down_ = 0.0;
  int surprises_ = 0;
  Forecast forecast_;
};

}  // namespace brinegate
