// SPDX-License-Identifier: Apache-2.0
// What analyses, lots, tanks and change plans have to say to people, in sentences; and the stable
// words for what rules/chemistry enumerates, as they stand in JSON.
#pragma once

#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "config/chemistry/content_words.h"
#include "rules/chemistry/assay_sanity.h"
#include "rules/chemistry/exchange.h"
#include "rules/chemistry/lot.h"
#include "rules/chemistry/ranking.h"
#include "rules/chemistry/tank.h"

namespace brinegate::config {

std::string_view word(AnalyteGroup group);  // "major ions"
std::string_view word(AssayFindingKind kind);
std::string_view word(VetoReason reason);
std::string_view word(Kinetics kinetics);
std::string_view word(ExchangeMode mode);

// Three digits without zeros that say nothing, never in powers of ten: "8.1", "421", "11000".
std::string three_digits(double number);

// In whose litres and at whose salinity the contents of a tank are shown.
WaterOfSample water_of(const Tank& tank);
WaterOfSample water_of(const Assay& assay);

// "H-2291", "H-2291/2" of a later version.
std::string name_of(const Lot& lot);
// "400-450", "up to 10" in the unit in which the analyte is shown; three digits.
std::string show_range(const ContentRange& range, Analyte analyte, const WaterOfSample& water);
// "0.30 dKH a day", "4.0 % a day"; "0 mg/L a day".
std::string show_consumption(const Consumption& consumption, Analyte analyte,
                             const WaterOfSample& water);
// "20 % each 7 d, 4 times"
std::string show(const ChangePlan& plan);

// "Calcium: 421 g/L is a thousand times what sea water has: was 421 mg/L meant?"
std::string sentence(const AssayFinding& finding, const Assay& assay);

// The answer of a ranking in one sentence: which lot, or which ones alike, and what decides it.
std::string headline(const Ranking& ranking, std::span<const Lot> lots, const Tank& tank,
                     const ChangePlan& plan);
std::string sentence(const Veto& veto, const Lot& lot, const Tank& tank);
// "Calcium: has 380 mg/L; 431 mg/L would be right."
std::string sentence(const Deciding& deciding, const Tank& tank, const ChangePlan& plan);

// "after 3 changes, surely after 5", "is there now", "never for good: it tends to 392 mg/L".
std::string sentence(const InRange& in_range, const CensoredValue& tends_to, Analyte analyte,
                     const Tank& tank, const ChangePlan& plan);
// What one change moves, against what the tank is to bear.
struct StepSentence {
  std::string text;
  bool too_large = false;
  bool moves = false;  // more than is to be seen
};
std::vector<StepSentence> sentences(const TankStep& step, const Tank& tank, const ChangePlan& plan);

// "Calcium: foretold 425 mg/L, measured 431 mg/L: they agree."
std::string sentence(const Outcome& outcome, const Tank& tank);
bool agrees(const Outcome& outcome);

}  // namespace brinegate::config
