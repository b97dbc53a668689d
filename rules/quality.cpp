// SPDX-License-Identifier: Apache-2.0
#include "rules/quality.h"

#include <algorithm>
#include <cmath>

namespace brinegate {
namespace {

using namespace std::chrono_literals;

// A source's clock may be this far ahead of ours before it is wrong (common practice, no source).
constexpr Duration clock_allowance = 2s;
// Within two of these the clock of a source that was set back is believed again.
constexpr Duration lag_period = 10min;
// Of the samples between two changes: how fast the usual number is learned, and how many times that
// is no longer chance (common practice, no source).
constexpr double stretch_weight = 0.25;
constexpr double unusual_stretch = 50.0;

}  // namespace

JudgedSample ProbeJudge::take(const Sample& sample, const Calibration& calibration,
                              bool salt_expected, Instant now) {
  last_fault_ = sample.fault;
  if (sample.fault != SampleFault::None)
    return reject(QualityReason::Fault, std::nullopt);
  if (!std::isfinite(sample.value))
    return reject(QualityReason::NotANumber, std::nullopt);
  const double uncorrected = converted(spec_->conversion, sample.value);
  const double value = calibrated(calibration, uncorrected);
  if (!std::isfinite(value))
    return reject(QualityReason::NotANumber, std::nullopt);
  if (sample.retained)
    return reject(QualityReason::Retained, value);
  arrived_ = ArrivedNumber{sample.value, uncorrected};
  arrived_at_ = std::min(sample.arrived, now.mono);
  if (sample.source_time && *sample.source_time > now.wall + clock_allowance)
    return reject(QualityReason::SourceClockAhead, value);
  if (is_repeated(sample))
    return reject(QualityReason::Stale, value);
  const MonoTime taken = taken_at(sample, now);
  if (now.mono - taken > spec_->stale_after)
    return reject(QualityReason::Stale, value);
  if (const auto reason = implausible(sample, value, salt_expected))
    return reject(*reason, value);
  if (is_flat(value, taken))
    return reject(QualityReason::FlatLine, value);
  if (is_spike(value))
    return reject(QualityReason::Spike, value);

  const bool simulated = sample.simulated || spec_->simulated;
  const auto before = accepted_.shown_value();
  const double elapsed = seconds(taken - accepted_.taken());
  const bool too_fast = spec_->limits.rate_per_second && before && elapsed > 0.0 &&
                        std::abs(value - *before) > *spec_->limits.rate_per_second * elapsed &&
                        std::abs(value - *before) > *spec_->limits.rate_per_second;
  accepted_ = too_fast ? Reading::uncertain(value, QualityReason::RateOfChange, taken, simulated)
                       : Reading::good(value, taken, simulated);
  accepted_uncorrected_ = uncorrected;
  noise_.add(value);
  rejected_since_accepted_ = false;
  return {accepted_.quality(), accepted_.reason(), value};
}

std::optional<QualityReason> ProbeJudge::implausible(const Sample& sample, double value,
                                                     bool salt_expected) const {
  const SampleLimits& limits = spec_->limits;
  if (is_contact(spec_->measures))
    return value == 0.0 || value == 1.0 ? std::nullopt : std::optional(QualityReason::GrossRange);
  if (limits.zero_is_fault && sample.value == 0.0)
    return QualityReason::ExactlyZero;
  if (value < limits.gross_low || value > limits.gross_high)
    return QualityReason::GrossRange;
  if (limits.air_below && salt_expected && value < *limits.air_below)
    return QualityReason::InAir;
  return std::nullopt;
}

// The same measurement once more, or one that was overtaken. Where the source's time lies further
// back its clock may have been set, and taken_at() judges its age.
bool ProbeJudge::is_repeated(const Sample& sample) const {
  return sample.source_time && source_time_ && *sample.source_time <= *source_time_ &&
         *source_time_ - *sample.source_time <= spec_->stale_after;
}

// When the measurement was made, on our monotonic clock: by the source's own time where it gives
// one, judged twice (against the wall clock, and against the smallest lag seen), the older counts.
MonoTime ProbeJudge::taken_at(const Sample& sample, Instant now) {
  const MonoTime arrived = std::min(sample.arrived, now.mono);
  if (!sample.source_time)
    return arrived;
  source_time_ = sample.source_time;
  const Duration lag = arrived.time_since_epoch() - sample.source_time->time_since_epoch();
  if (!smallest_lag_ || now.mono - lag_period_began_ > lag_period) {
    smallest_lag_before_ = smallest_lag_;
    smallest_lag_ = lag;
    lag_period_began_ = now.mono;
  }
  smallest_lag_ = std::min(*smallest_lag_, lag);
  const Duration least = std::min(*smallest_lag_, smallest_lag_before_.value_or(*smallest_lag_));
  const Duration age_by_wall = std::max(Duration::zero(), now.wall - *sample.source_time);
  return std::min({arrived, now.mono - age_by_wall, arrived - (lag - least)});
}

bool ProbeJudge::is_spike(double value) {
  const auto last = accepted_.shown_value();
  if (!spec_->limits.spike || !last)
    return false;
  const double limit = *spec_->limits.spike;
  const bool jumped = std::abs(value - *last) > limit;
  const bool confirmed = unconfirmed_ && std::abs(value - *unconfirmed_) <= limit;
  unconfirmed_ = jumped && !confirmed ? std::optional(value) : std::nullopt;
  return jumped && !confirmed;
}

// A coarse display of settled water rightly stands still for long. Frozen is what stands still much
// longer than this probe's samples used to.
bool ProbeJudge::is_flat(double value, MonoTime taken) {
  if (!flat_value_ || *flat_value_ != value) {
    if (flat_value_)
      usual_stretch_ += (same_samples_ - usual_stretch_) * stretch_weight;
    flat_value_ = value;
    flat_since_ = taken;
    same_samples_ = 0.0;
  }
  same_samples_ += 1.0;
  flat_ = spec_->limits.flat_line_after && taken - flat_since_ >= *spec_->limits.flat_line_after &&
          same_samples_ > unusual_stretch * usual_stretch_;
  return flat_;
}

JudgedSample ProbeJudge::reject(QualityReason reason, std::optional<double> value) {
  last_rejection_ = reason;
  rejected_since_accepted_ = true;
  return {Quality::Bad, reason, value};
}

Reading ProbeJudge::reading(MonoTime now) const {
  if (!accepted_.shown_value())
    return Reading::bad(last_rejection_);
  if (flat_)
    return Reading::bad(QualityReason::FlatLine);
  if (now - accepted_.taken() > spec_->stale_after)
    return Reading::bad(rejected_since_accepted_ ? last_rejection_ : QualityReason::Stale);
  return accepted_;
}

std::optional<double> ProbeJudge::uncorrected(MonoTime now) const {
  return reading(now).is_good() ? std::optional(accepted_uncorrected_) : std::nullopt;
}

std::optional<ArrivedNumber> ProbeJudge::arrived(MonoTime now) const {
  return now - arrived_at_ <= spec_->stale_after ? arrived_ : std::nullopt;
}

}  // namespace brinegate
