// SPDX-License-Identifier: Apache-2.0
// One analysis of water: of a sample mixed from a lot, or of a tank.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "rules/chemistry/composition.h"
#include "rules/units.h"

namespace brinegate {

struct AssayValue {
  CensoredValue content;                  // in the sample
  std::vector<double> replicates;         // in the analyte's unit; empty: one value
  std::optional<double> detection_limit;  // in the analyte's unit, where one was stated
  std::string written;                    // as it was given: "421 mg/L", "< 2 ug/L"
  int line = 0;                           // of the text it was read from; 0: none

  bool operator==(const AssayValue&) const = default;
};

struct Assay {
  PracticalSalinity salinity;  // of the sample, above 0
  Celsius temperature{25.0};   // at which its litre was a litre
  std::string method;          // "ICP-OES"; may be empty
  std::map<Analyte, AssayValue> values;

  bool operator==(const Assay&) const = default;
};

// mg/L of the element to its content, and back: by the density of water of this salinity. The same
// for alkalinity in mmol/L (meq/L).
double content_of_per_litre(double per_litre, PracticalSalinity salinity, Celsius temperature);
double per_litre_of_content(double content, PracticalSalinity salinity, Celsius temperature);

// The uncertainty of a mean of replicates (at least two): JCGM 100, 4.2.3; but not less than what
// replicates of one sample cannot show, half of the usual uncertainty of an analysis.
CensoredValue content_of_replicates(const std::vector<double>& replicates,
                                    double usual_relative_uncertainty);

// The contents as analysed, and what they come to at SP 35.
Composition contents(const Assay& assay);
Composition composition_of(const Assay& assay);

}  // namespace brinegate
