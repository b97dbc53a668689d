// SPDX-License-Identifier: Apache-2.0
// Judges the samples of one probe into a reading (S3, S4). A bad sample is no sample: it is kept
// for the record and never becomes a value; when no good one came within the deadline the reading
// is bad. So one bubble changes nothing, and bubbles that leave no good sample do.
#pragma once

#include <optional>

#include "rules/calibration.h"
#include "rules/noise.h"
#include "rules/probe.h"
#include "rules/reading.h"
#include "rules/time.h"

namespace brinegate {

// What became of one sample, for the record.
struct JudgedSample {
  Quality quality = Quality::Bad;
  QualityReason reason = QualityReason::NoSample;
  std::optional<double> value;  // as measured, also where it is bad and a number
};

// A number as it arrived, and after its conversion.
struct ArrivedNumber {
  double raw = 0.0;
  double uncorrected = 0.0;
};

class ProbeJudge {
 public:
  explicit ProbeJudge(const ProbeSpec& spec) : spec_(&spec) {}

  // `salt_expected`: the water is known to be salty, so a cell near zero hangs in air.
  JudgedSample take(const Sample& sample, const Calibration& calibration, bool salt_expected,
                    Instant now);
  // The reading as of now.
  [[nodiscard]] Reading reading(MonoTime now) const;
  [[nodiscard]] SampleFault last_fault() const { return last_fault_; }
  // The latest value before calibration, where the reading is good.
  [[nodiscard]] std::optional<double> uncorrected(MonoTime now) const;
  [[nodiscard]] const Noise& noise() const { return noise_; }
  // The latest number whatever it was judged to be, until it is past the deadline. For comparing
  // with a display only: no decision about water may use it.
  [[nodiscard]] std::optional<ArrivedNumber> arrived(MonoTime now) const;

 private:
  [[nodiscard]] std::optional<QualityReason> implausible(const Sample& sample, double value,
                                                         bool salt_expected) const;
  [[nodiscard]] bool is_repeated(const Sample& sample) const;
  MonoTime taken_at(const Sample& sample, Instant now);
  bool is_spike(double value);
  bool is_flat(double value, MonoTime taken);
  JudgedSample reject(QualityReason reason, std::optional<double> value);

  const ProbeSpec* spec_;
  Reading accepted_;  // last one that passed, good or uncertain
  double accepted_uncorrected_ = 0.0;
  Noise noise_;
  std::optional<ArrivedNumber> arrived_;
  MonoTime arrived_at_;
  QualityReason last_rejection_ = QualityReason::NoSample;
  bool rejected_since_accepted_ = false;
  SampleFault last_fault_ = SampleFault::None;
  std::optional<double> unconfirmed_;  // a jump that the next sample must confirm
  std::optional<double> flat_value_;
  MonoTime flat_since_;
  double same_samples_ = 0.0;   // without a change until now
  double usual_stretch_ = 1.0;  // samples from one change to the next
  bool flat_ = false;

  // Sources that give their own time: its smallest lag behind arrival in this and the last period,
  // so that an old value shows even where the wall clock has jumped.
  std::optional<WallTime> source_time_;
  std::optional<Duration> smallest_lag_;
  std::optional<Duration> smallest_lag_before_;
  MonoTime lag_period_began_;
};

}  // namespace brinegate
