// SPDX-License-Identifier: Apache-2.0
// What the sea salt in water is made of: the contents it gives to water of SP 35. All that mixing
// water does is proportional to it, so the content at any other salinity is this times SP / 35
// (conservative mixing). What was not analysed is absent, which is not zero.
#pragma once

#include <array>
#include <optional>
#include <span>

#include "rules/chemistry/analyte.h"
#include "rules/chemistry/content.h"
#include "rules/units.h"

namespace brinegate {

constexpr PracticalSalinity composition_salinity{35.0};

class Composition {
 public:
  [[nodiscard]] const std::optional<CensoredValue>& operator[](Analyte analyte) const {
    return contents_[static_cast<std::size_t>(analyte)];
  }
  std::optional<CensoredValue>& operator[](Analyte analyte) {
    return contents_[static_cast<std::size_t>(analyte)];
  }
  [[nodiscard]] bool empty() const;

  bool operator==(const Composition&) const = default;

 private:
  std::array<std::optional<CensoredValue>, analyte_count> contents_;
};

// The content of water of this salinity; nothing where it was not analysed.
std::optional<CensoredValue> content_at(PracticalSalinity salinity, const Composition& composition,
                                        Analyte analyte);
// What contents in water of this salinity (above 0) come to at SP 35.
Composition at_composition_salinity(PracticalSalinity salinity, const Composition& contents);

struct SaltShare {
  const Composition* composition = nullptr;
  double share = 0.0;  // of the anhydrous sea salt; not negative
};

// Salts mixed by mass: the mean of their compositions weighted by the shares, which need not add up
// to 1. What one of them does not name is not known of the mixture either.
Composition mixture(std::span<const SaltShare> salts);

}  // namespace brinegate
