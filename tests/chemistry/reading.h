// SPDX-License-Identifier: Apache-2.0
// Lots and tests read from a text, for the tests of the readers.
#pragma once

#include <stdexcept>
#include <string>
#include <string_view>

#include <fmt/format.h>

#include "config/chemistry/lot_text.h"
#include "config/chemistry/tank_text.h"

namespace brinegate::config {

inline std::string all_errors(const std::vector<Problem>& errors) {
  std::string text;
  for (const Problem& problem : errors)
    text += render(problem) + "\n";
  return text;
}

// With the particulars that most examples leave out.
inline LotParticulars usual_particulars() {
  return {"H-2291", "Harbour blend", PracticalSalinity(35.0), {}, {}};
}

inline Lot lot_read(std::string_view text, const LotParticulars& particulars = {}) {
  const ReadLot read = read_lot(text, "lot", particulars);
  if (!read.lot)
    throw std::runtime_error(fmt::format("refused: {}", all_errors(read.errors)));
  return *read.lot;
}
// What is said to a text that is refused.
inline std::string lot_refusal(std::string_view text, const LotParticulars& particulars = {}) {
  const ReadLot read = read_lot(text, "lot", particulars);
  return read.lot ? "not refused" : all_errors(read.errors);
}

// In mg/L (alkalinity: meq/L) of the sample.
inline double per_litre(const Assay& assay, Analyte analyte) {
  return per_litre_of_content(assay.values.at(analyte).content.high, assay.salinity,
                              assay.temperature);
}

}  // namespace brinegate::config
