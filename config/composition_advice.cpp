// SPDX-License-Identifier: Apache-2.0
#include "config/composition_advice.h"

#include <cmath>
#include <vector>

#include <fmt/format.h>

#include "config/advice.h"
#include "config/chemistry/content_words.h"
#include "config/waiver_advice.h"

namespace brinegate::config {
namespace {

PracticalSalinity salinity_of(const Batch& batch) {
  return batch.proof ? batch.proof->salinity : batch.profile.target;
}

// What is wrong with the lots themselves, where the profile asks for them.
std::vector<std::string> wrong_with_lots(const Batch& batch) {
  std::vector<std::string> wrong;
  if (!batch.profile.lot_required)
    return wrong;
  for (const LotPart& part : batch.lots.parts) {
    if (part.version == 0)
      wrong.push_back(fmt::format(
          "lot {} is not on record: add its analysis with \"brinegate lot add\"", part.lot));
    else if (has_expired(part, batch.age))
      wrong.push_back(fmt::format("lot {} has expired", part.lot));
  }
  if (has_unnamed(batch.lots))
    wrong.emplace_back("part of it is a rest of which no lot is known");
  return wrong;
}

std::string beyond_limit(const ContentFinding& finding, const Batch& batch) {
  const std::string needed = range_text(finding, batch);
  if (!finding.found)
    return fmt::format("{} is not in the assay, needed {}", word(finding.analyte), needed);
  return fmt::format("{} is {} by assay, needed {}", word(finding.analyte),
                     content_text(*finding.found, finding.analyte, batch), needed);
}

std::string lot_sentence(const CheckResult& check, const Batch& batch) {
  if (check.verdict == Verdict::Met)
    return batch.profile.limits.empty() ? "Its lots are on record and not expired."
                                        : "By assay it is within every limit.";
  if (!batch.in_progress())
    return "Judged once a batch has begun.";
  if (check.verdict == Verdict::Waiting)
    return check.contents.empty()
               ? "By assay it is within every limit, if it settles on target."
               : "Note the salt: how much there is of each lot decides what is in the water.";
  std::vector<std::string> wrong = wrong_with_lots(batch);
  for (const ContentFinding& finding : check.contents)
    wrong.push_back(beyond_limit(finding, batch));
  return fmt::format("Not the right salt: {}.", fmt::join(wrong, "; "));
}

// "8.2 dKH by hand (by assay 8.4 dKH)"
std::string by_hand(const ContentFinding& finding, const Batch& batch) {
  std::string text = fmt::format("{} is {} by hand", word(finding.analyte),
                                 content_text(*finding.found, finding.analyte, batch));
  if (finding.expected)
    text += fmt::format(" (by assay {})", content_text(*finding.expected, finding.analyte, batch));
  return finding.within ? text : fmt::format("{}, needed {}", text, range_text(finding, batch));
}

std::string asked_by_hand(const ContentFinding& finding, const Batch& batch) {
  std::string text =
      fmt::format("{}, needed {}", word(finding.analyte), range_text(finding, batch));
  if (finding.expected)
    text += fmt::format(", by assay {}", content_text(*finding.expected, finding.analyte, batch));
  return text;
}

std::string hand_test_sentence(const CheckResult& check, const brinegate::Station& station) {
  const Batch& batch = station.batch();
  std::vector<std::string> wrong;
  std::vector<std::string> missing;
  std::vector<std::string> met;
  Analyte first_missing = Analyte::Alkalinity;
  for (const ContentFinding& finding : check.contents) {
    if (!finding.found) {
      if (missing.empty())
        first_missing = finding.analyte;
      missing.push_back(asked_by_hand(finding, batch));
    } else {
      (finding.within ? met : wrong).push_back(by_hand(finding, batch));
    }
  }
  if (!wrong.empty())
    return fmt::format("{}.", fmt::join(wrong, "; "));
  if (!missing.empty())
    return fmt::format(
        "Test by hand once it has dissolved: {}. Tell: brinegate batch test {} {} \"...\"",
        fmt::join(missing, "; "), station.spec().name, analyte_row(first_missing).symbol);
  return fmt::format("{}.", fmt::join(met, "; "));
}

}  // namespace

std::string what_is_proven(const Batch& batch) {
  const bool assay = batch.lots.composition && !batch.lots.composition->empty();
  const bool tested = !batch.profile.hand_tests.empty();
  const std::string waived = batch.proof ? waived_text(*batch.proof) : "";
  if (assay)
    return (tested ? "salinity proven, composition by assay and hand test"
                   : "salinity proven, composition by assay") +
           waived;
  return (tested ? "salinity proven, composition by hand test alone: no assay is on record"
                 : "salinity proven, composition unknown: no assay is on record") +
         waived;
}

std::string content_text(const CensoredValue& content, Analyte analyte, const Batch& batch) {
  return show_content(content, analyte, {salinity_of(batch), Celsius(25.0), false});
}

std::string range_text(const ContentFinding& finding, const Batch& batch) {
  const auto limit = [&](double content) {
    return show_content(measured(content, 0.0), finding.analyte,
                        {batch.profile.target, Celsius(25.0), false});
  };
  const ContentRange& range = finding.needed;
  if (!std::isfinite(range.high))
    return fmt::format("at least {}", limit(range.low));
  if (range.low <= 0.0)
    return fmt::format("at most {}", limit(range.high));
  return fmt::format("{} to {}", limit(range.low), limit(range.high));
}

std::string composition_sentence(const CheckResult& check, const brinegate::Station& station) {
  switch (check.id) {
    case CheckId::LotRight:
      return lot_sentence(check, station.batch());
    case CheckId::HandTests:
      return hand_test_sentence(check, station);
    default:
      return "";
  }
}

}  // namespace brinegate::config
