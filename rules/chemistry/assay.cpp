// SPDX-License-Identifier: Apache-2.0
#include "rules/chemistry/assay.h"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <numeric>

#include "rules/seawater.h"

namespace brinegate {
namespace {

double kilograms_per_litre(PracticalSalinity salinity, Celsius temperature) {
  return density(salinity, temperature).value() / 1000.0;
}

}  // namespace

double content_of_per_litre(double per_litre, PracticalSalinity salinity, Celsius temperature) {
  return per_litre / kilograms_per_litre(salinity, temperature);
}

double per_litre_of_content(double content, PracticalSalinity salinity, Celsius temperature) {
  return content * kilograms_per_litre(salinity, temperature);
}

CensoredValue content_of_replicates(const std::vector<double>& replicates,
                                    double usual_relative_uncertainty) {
  assert(replicates.size() >= 2);
  const auto count = static_cast<double>(replicates.size());
  const double mean = std::accumulate(replicates.begin(), replicates.end(), 0.0) / count;
  double squares = 0.0;
  for (const double replicate : replicates)
    squares += (replicate - mean) * (replicate - mean);
  const double of_mean = std::sqrt(squares / (count - 1.0) / count);
  return measured(mean, std::max(of_mean, 0.5 * usual_relative_uncertainty * mean));
}

Composition contents(const Assay& assay) {
  Composition result;
  for (const auto& [analyte, value] : assay.values)
    result[analyte] = value.content;
  return result;
}

Composition composition_of(const Assay& assay) {
  return at_composition_salinity(assay.salinity, contents(assay));
}

}  // namespace brinegate
