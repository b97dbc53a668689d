// SPDX-License-Identifier: Apache-2.0
// A real number drawn evenly from a range, for properties; shrinks toward the low end.
#pragma once

#include <rapidcheck.h>

namespace brinegate {

inline double uniform(double low, double high) {
  // Without the resize the first draws of a run would all stand near the low end.
  const int step = *rc::gen::resize(rc::kNominalSize, rc::gen::inRange(0, 1'000'001));
  return low + (high - low) * step / 1e6;
}

}  // namespace brinegate
