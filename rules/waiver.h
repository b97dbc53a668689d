// SPDX-License-Identifier: Apache-2.0
// A waiver lets one check of one batch pass although it is not met (S8): by a named person, with a
// reason and an end, and only where the batch's profile allows that check to be waived. It ends by
// itself, with the batch, and at every restart, over which no clock of ours can count. Nothing else
// passes the gate.
#pragma once

#include <algorithm>
#include <array>
#include <string>

#include "rules/check.h"
#include "rules/time.h"

namespace brinegate {

// What a profile can allow to be waived: what a person can see to with eyes, a test kit or a
// thermometer of their own. Never fresh readings, the salinity itself, level, leak, read-back or
// the record.
constexpr std::array waivable_checks{
    CheckId::Uniform,  CheckId::AsDosed,   CheckId::Circulated, CheckId::TemperatureRight,
    CheckId::LotRight, CheckId::HandTests, CheckId::NotTooOld};
constexpr bool may_ever_be_waived(CheckId id) {
  return std::find(waivable_checks.begin(), waivable_checks.end(), id) != waivable_checks.end();
}

constexpr Duration shortest_waiver = std::chrono::minutes(1);
constexpr Duration longest_waiver = std::chrono::hours(24);

// Of the batch's waivers, the one for this check; null: there is none.
const Waiver* waiver_of(const Batch& batch, CheckId id);

}  // namespace brinegate
