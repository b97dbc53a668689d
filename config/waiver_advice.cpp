// SPDX-License-Identifier: Apache-2.0
#include "config/waiver_advice.h"

#include <algorithm>
#include <string_view>
#include <vector>

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "config/quantity.h"
#include "config/words.h"

namespace brinegate::config {
namespace {

template <class Checks>
std::string listed(const Checks& checks) {
  std::vector<std::string_view> names;
  for (const CheckId id : checks)
    names.push_back(word(id));
  return fmt::format("{}", fmt::join(names, ", "));
}

}  // namespace

std::string all_waivable() {
  return listed(waivable_checks);
}

std::string sentence(const Waiver& waiver, MonoTime now) {
  return fmt::format("Waived by {} for another {}: {}.", waiver.person,
                     show(std::max(waiver.until - now, Duration::zero())), waiver.reason);
}

std::string waived_text(const Proof& proof) {
  return proof.waived.empty() ? "" : fmt::format(", with {} waived", listed(proof.waived));
}

}  // namespace brinegate::config
