// SPDX-License-Identifier: Apache-2.0
// Units of contents, and what one of each comes to.
#pragma once

#include <string_view>

#include "config/chemistry/content_words.h"
#include "rules/result.h"

namespace brinegate::config {

// So much of the analyte's content (rules/chemistry/analyte.h) is one of the unit `written` of what
// was named, in this water. Error: what is wrong with the unit, and which are accepted.
Result<double> content_of_one(std::string_view written, const NamedAnalyte& of,
                              const WaterOfSample& water);
// "dKH, meq/L ...": for messages.
std::string_view accepted_units(Analyte analyte);

}  // namespace brinegate::config
