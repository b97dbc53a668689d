// SPDX-License-Identifier: Apache-2.0
// Contents as people are shown them.
#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "config/chemistry/content_units.h"
#include "config/chemistry/content_words.h"

namespace brinegate::config {
namespace {

// Down to the first digit that is uncertain.
int decimals_for(double uncertainty) {
  constexpr int most = 6;
  if (!(uncertainty > 0.0))
    return 0;
  return std::clamp(static_cast<int>(-std::floor(std::log10(uncertainty) + 1e-9)), 0, most);
}

}  // namespace

std::string_view shown_unit(Analyte analyte) {
  switch (analyte) {
    case Analyte::Alkalinity:
      return "dKH";
    case Analyte::Sulfur:
      return "mg/L SO4";
    case Analyte::Nitrogen:
      return "mg/L NO3";
    case Analyte::Phosphorus:
      return "mg/L PO4";
    default:
      return analyte_row(analyte).group == AnalyteGroup::MajorIon ? "mg/L" : "µg/L";
  }
}

double shown_number(double content, Analyte analyte, const WaterOfSample& water) {
  return content / content_of_one(shown_unit(analyte), {analyte, 1.0}, water).value();
}

std::string show_content(const CensoredValue& content, Analyte analyte,
                         const WaterOfSample& water) {
  const double low = shown_number(content.low, analyte, water);
  const double high = shown_number(content.high, analyte, water);
  const std::string_view unit = shown_unit(analyte);
  // Of what has no uncertainty two digits.
  const double uncertainty = shown_number(content.standard_uncertainty, analyte, water);
  const int decimals = decimals_for(uncertainty > 0.0 ? uncertainty : 0.1 * high);
  if (!content.censored())
    return fmt::format("{:.{}f} {}", high, decimals, unit);
  if (content.low <= 0.0)
    return fmt::format("< {:.{}f} {}", high, decimals, unit);
  return fmt::format("{:.{}f} to {:.{}f} {}", low, decimals, high, decimals, unit);
}

}  // namespace brinegate::config
