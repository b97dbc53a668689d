// SPDX-License-Identifier: Apache-2.0
// Reads a lot's analysis as people have it: our JSON file, CSV with `analyte,value,unit`, or a
// table pasted from a page or a document. What could not be read is listed with its line, never
// guessed.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "config/problem.h"
#include "rules/chemistry/lot.h"
#include "rules/units.h"

namespace brinegate::config {

constexpr std::size_t largest_analysis = std::size_t{64} * 1024;  // bytes

// What the text need not say, because the person says it beside it. What both say must agree.
struct LotParticulars {
  std::string name;
  std::string salt;
  std::optional<PracticalSalinity> salinity;  // of the sample
  std::optional<WallTime> expires;
  std::optional<double> dry_fraction;
};

struct UnreadLine {
  int line = 0;
  std::string text;
  std::string why;
};

struct ReadLot {
  std::optional<Lot> lot;          // only where there is no error; version and person are not set
  std::vector<Problem> errors;     // each names its line and what to write instead
  std::vector<UnreadLine> unread;  // lines that name no analyte, or say a content once more
};

// The format is told by the text itself. `file_name` is for the problems.
ReadLot read_lot(std::string_view given, const std::string& file_name,
                 const LotParticulars& particulars);

}  // namespace brinegate::config
