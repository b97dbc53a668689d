// SPDX-License-Identifier: Apache-2.0
// The sentences of the checks on the pumps, the levels and the tank.
#pragma once

#include <string>

#include "rules/check.h"
#include "rules/station.h"

namespace brinegate::config {

// Empty for a check of another sort.
std::string pump_sentence(const CheckResult& check, const brinegate::Station& station);

}  // namespace brinegate::config
