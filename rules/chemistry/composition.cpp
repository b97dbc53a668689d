// SPDX-License-Identifier: Apache-2.0
#include "rules/chemistry/composition.h"

#include <algorithm>
#include <cassert>

namespace brinegate {
namespace {

Composition scaled(double factor, const Composition& composition) {
  Composition result;
  for (std::size_t i = 0; i < analyte_count; ++i) {
    const auto analyte = static_cast<Analyte>(i);
    if (const auto& content = composition[analyte])
      result[analyte] = factor * *content;
  }
  return result;
}

}  // namespace

bool Composition::empty() const {
  return std::none_of(contents_.begin(), contents_.end(),
                      [](const auto& content) { return content.has_value(); });
}

std::optional<CensoredValue> content_at(PracticalSalinity salinity, const Composition& composition,
                                        Analyte analyte) {
  const auto& content = composition[analyte];
  if (!content)
    return std::nullopt;
  return (salinity / composition_salinity) * *content;
}

Composition at_composition_salinity(PracticalSalinity salinity, const Composition& contents) {
  assert(salinity > PracticalSalinity(0.0));
  return scaled(composition_salinity / salinity, contents);
}

Composition mixture(std::span<const SaltShare> salts) {
  double whole = 0.0;
  for (const SaltShare& salt : salts)
    whole += salt.share;
  Composition result;
  if (whole <= 0.0)
    return result;
  for (std::size_t i = 0; i < analyte_count; ++i) {
    const auto analyte = static_cast<Analyte>(i);
    std::optional<CensoredValue> sum = CensoredValue{};
    for (const SaltShare& salt : salts) {
      const auto& content = (*salt.composition)[analyte];
      if (salt.share > 0.0)
        sum = sum && content ? std::optional(*sum + (salt.share / whole) * *content) : std::nullopt;
    }
    result[analyte] = sum;
  }
  return result;
}

}  // namespace brinegate
