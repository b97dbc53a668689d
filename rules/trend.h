// SPDX-License-Identifier: Apache-2.0
// A slowly changing quantity behind a coarse display: its level and its trend, by the critically
// damped g-h filter (Kalata 1984, IEEE Trans. Aerosp. Electron. Syst. 20:174). What moves fast is
// followed closely; what stands nearly still is averaged for long, so that a display's steps
// vanish.
#pragma once

#include <optional>

#include "rules/time.h"

namespace brinegate {

class Trend {
 public:
  // Averages over at least and at most so long, and no longer than it takes to move by `step`.
  Trend(double step, Duration least, Duration most) : step_(step), least_(least), most_(most) {}

  void add(MonoTime at, double value);
  void reset() { at_.reset(); }
  [[nodiscard]] double level() const { return level_; }
  [[nodiscard]] double per_second() const { return per_second_; }

 private:
  double step_;
  Duration least_;
  Duration most_;
  std::optional<MonoTime> at_;
  double level_ = 0.0;
  double per_second_ = 0.0;
};

}  // namespace brinegate
