// SPDX-License-Identifier: Apache-2.0
// Reasons in words: the one place where what a station decided becomes sentences that a person can
// act on.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "rules/acceptance.h"
#include "rules/check.h"
#include "rules/dose_witness.h"
#include "rules/lot_yield.h"
#include "rules/mass_balance.h"
#include "rules/probe_health.h"
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

// "salinity proven, composition by assay": what a proof says, and rests on (S23).
std::string what_is_proven(const Batch& batch);
// A content, and what is needed of it, in the batch's water: "8.2 dKH", "at most 5.0 µg/L".
std::string content_text(const CensoredValue& content, Analyte analyte, const Batch& batch);
std::string range_text(const ContentFinding& finding, const Batch& batch);

std::string sentence(const CommandAnswer& answer);

// "1.2 kg more salt was weighed in than noted", of a volume by level or as noted.
std::string explanation_text(const DoseExplanation& explanation, bool by_level);

// The salinity that the batch will come to, where that asks for a correction: once it has settled
// off its target, or while it dissolves and the forecast is sharp enough to act on.
std::optional<Uncertain<PracticalSalinity>> final_salinity(const brinegate::Station& station);
// Ways to bring a batch that will come to this salinity onto its target, those that fit first; none
// where too little is known.
std::vector<Correction> corrections_for(const brinegate::Station& station,
                                        const Uncertain<PracticalSalinity>& final_salinity);
// The same for the final salinity as above; none where there is nothing to correct.
std::vector<Correction> corrections_for(const brinegate::Station& station);
std::string sentence(const Correction& correction);

// "H-2291 yields 91.2 ± 2.1 % of dry salt, learned from 3 batches: 39.3 g a litre for 35.00 ppt."
std::string sentence(const std::string& lot, const LotYield& yield);

// What the instruments leave of the tolerance, and what would leave more.
std::string sentence(const Acceptance& acceptance);

// "No drift of cell_a is to be seen; calibrate it within 41 d."
std::string sentence(const ProbeHealth& health, std::string_view probe);

struct AlarmWords {
  std::string_view cause;
  std::string_view consequence;
  std::string_view action;
};
AlarmWords words_of(AlarmId alarm);

// The same with the numbers of this station.
struct AlarmText {
  std::string cause;
  std::string consequence;
  std::string action;
};
AlarmText text_of(AlarmId alarm, const brinegate::Station& station);

}  // namespace brinegate::config
