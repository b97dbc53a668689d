// SPDX-License-Identifier: Apache-2.0
// A Sample is what a driver delivers, raw; a Reading is a sample that was judged. Zero-initialised
// means bad, and a bad reading has no value that a rule could reach by accident.
#pragma once

#include <optional>

#include "rules/time.h"

namespace brinegate {

// OPC UA's three qualities; worse compares smaller.
enum class Quality { Bad, Uncertain, Good };

// Why a reading is not good. The tests are named as in QARTOD.
enum class QualityReason {
  NoSample,          // nothing yet since start
  Stale,             // no good sample within the deadline
  Fault,             // the source reported a fault instead of a value
  Retained,          // an old value replayed by the broker
  SourceClockAhead,  // the source's time lies in the future
  NotANumber,
  GrossRange,
  ExactlyZero,
  InAir,
  Spike,
  RateOfChange,
  FlatLine,
  OutsideEquation,  // the number is an extrapolation
  None,
};

// What a driver can report instead of a value: a closed list.
enum class SampleFault {
  None,
  NotConnected,
  Timeout,
  DeviceException,  // Modbus exception answer
  BadAnswer,        // wrong length, checksum, unit, or echo
  Unparsable,       // text or JSON that is not the value asked for
  ProcessEnded,
};

struct Sample {
  double value =
      0.0;  // in the probe's configured unit after scaling; meaningless when fault is set
  SampleFault fault = SampleFault::NotConnected;
  MonoTime arrived;                     // when the shell saw it
  std::optional<WallTime> source_time;  // when the source says it measured
  bool retained = false;                // replayed by a broker
  bool simulated = false;               // from a simulator or a replay: never moves a real pump
};

class Reading {
 public:
  Reading() = default;
  static Reading good(double value, MonoTime taken, bool simulated) {
    return {Quality::Good, QualityReason::None, value, taken, simulated};
  }
  static Reading uncertain(double value, QualityReason reason, MonoTime taken, bool simulated) {
    return {Quality::Uncertain, reason, value, taken, simulated};
  }
  static Reading bad(QualityReason reason) {
    return {Quality::Bad, reason, std::nullopt, {}, false};
  }

  [[nodiscard]] Quality quality() const { return quality_; }
  [[nodiscard]] QualityReason reason() const { return reason_; }
  [[nodiscard]] bool is_good() const { return quality_ == Quality::Good; }
  [[nodiscard]] bool simulated() const { return simulated_; }
  [[nodiscard]] MonoTime taken() const { return taken_; }
  // The only value a decision may use.
  [[nodiscard]] std::optional<double> good_value() const {
    return is_good() ? value_ : std::nullopt;
  }
  // For display and the record: good or uncertain.
  [[nodiscard]] std::optional<double> shown_value() const { return value_; }

 private:
  Reading(Quality quality, QualityReason reason, std::optional<double> value, MonoTime taken,
          bool simulated)
      : quality_(quality), reason_(reason), value_(value), taken_(taken), simulated_(simulated) {}

  Quality quality_ = Quality::Bad;
  QualityReason reason_ = QualityReason::NoSample;
  std::optional<double> value_;
  MonoTime taken_;
  bool simulated_ = false;
};

}  // namespace brinegate
