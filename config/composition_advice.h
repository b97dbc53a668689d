// SPDX-License-Identifier: Apache-2.0
// Sentences about what is in the water besides its salinity, for config/advice.cpp.
#pragma once

#include <string>

#include "rules/check.h"
#include "rules/station.h"

namespace brinegate::config {

// Of the checks on lots and hand tests; empty of all others.
std::string composition_sentence(const CheckResult& check, const brinegate::Station& station);

}  // namespace brinegate::config
