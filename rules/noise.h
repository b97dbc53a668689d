// SPDX-License-Identifier: Apache-2.0
// What a probe's own samples tell of it: how much they scatter, and in which steps it counts.
//
// The scatter is that of white noise, from second differences (their variance is six times that of
// a sample), which no steady slope moves. Each is clipped at three standard deviations before it is
// averaged, so that a step, or a bubble that the sample tests let pass, moves it by a tenth at
// most; the weight of a sample falls by e in 128 samples. What came before the water was even, salt
// thrown in above all, is forgotten sooner: the scatter is at most twice what the median of the
// latest differences says. Noise that a probe has smoothed away itself is not seen. A few additions
// and multiplications a sample.
#pragma once

namespace brinegate {

class Noise {
 public:
  // The next accepted sample, in the probe's unit.
  void add(double value);

  // Of one sample, in the probe's unit; 0 until enough samples have come.
  [[nodiscard]] double standard_deviation() const;
  // The smallest step between samples that came back often enough to be the probe's own, in its
  // unit; 0: none was found.
  [[nodiscard]] double resolution() const;

 private:
  void add_step(double step);

  double last_ = 0.0;
  double step_before_ = 0.0;
  double variance_ = 0.0;
  double median_ = 0.0;  // of the second differences' amounts, followed step by step
  int samples_ = 0;      // up to what the average can remember

  double smallest_step_ = 0.0;
  int seen_ = 0;      // of that step, up to what is enough
  int not_seen_ = 0;  // other steps since it was seen last
};

}  // namespace brinegate
