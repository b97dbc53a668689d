// SPDX-License-Identifier: Apache-2.0
// Reasons in words: the one place where what a station decided becomes sentences that a person can
// act on.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "rules/check.h"
#include "rules/mass_balance.h"
#include "rules/station.h"
#include "rules/station_events.h"

namespace brinegate::config {

// "Still dissolving: at most 0.31 ppt may still come, about 22 min to go."
std::string sentence(const CheckResult& check, const brinegate::Station& station);
// With their unit; empty where the check has no such value.
std::string measured_text(const CheckResult& check);
std::string needed_text(const CheckResult& check);

// The one sentence at the head of a station: open or shut, why, and what to do.
std::string headline(const brinegate::Station& station, MonoTime now);

std::string sentence(const CommandAnswer& answer);

// Ways to bring a settled batch that is off its target onto it, those that fit first; none where
// there is nothing to correct or too little is known.
std::vector<Correction> corrections_for(const brinegate::Station& station);
std::string sentence(const Correction& correction);

struct AlarmWords {
  std::string_view cause;
  std::string_view consequence;
  std::string_view action;
};
AlarmWords words_of(AlarmId alarm);

}  // namespace brinegate::config
