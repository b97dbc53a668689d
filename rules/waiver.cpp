// SPDX-License-Identifier: Apache-2.0
#include "rules/waiver.h"

namespace brinegate {

const Waiver* waiver_of(const Batch& batch, CheckId id) {
  const auto found = std::find_if(batch.waivers.begin(), batch.waivers.end(),
                                  [id](const Waiver& waiver) { return waiver.check == id; });
  return found == batch.waivers.end() ? nullptr : &*found;
}

}  // namespace brinegate
