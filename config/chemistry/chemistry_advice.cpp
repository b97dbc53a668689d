// SPDX-License-Identifier: Apache-2.0
#include "config/chemistry/chemistry_advice.h"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "config/quantity.h"
#include "rules/seawater.h"

namespace brinegate::config {
namespace {

// Beyond it, in standard uncertainties, two values disagree (rules/chemistry/tank.h).
constexpr double disagreement = 2.0;

// ppt or °C; less is shown as 0.00.
constexpr double smallest_shown_step = 0.005;

std::string show_number(double content, Analyte analyte, const WaterOfSample& water) {
  return three_digits(shown_number(content, analyte, water));
}

std::string show_with_unit(double content, Analyte analyte, const WaterOfSample& water) {
  return fmt::format("{} {}", show_number(content, analyte, water), shown_unit(analyte));
}

std::string percent(double share) {
  return three_digits(100.0 * share) + " %";
}

std::string times(int count, std::string_view what) {
  return fmt::format("{} {}{}", count, what, count == 1 ? "" : "s");
}

std::string_view each_of(const ChangePlan& plan) {
  return plan.mode == ExchangeMode::Discrete ? "change" : "interval";
}

// "a", "a and b", "a, b and c".
std::string listed(const std::vector<std::string>& names) {
  if (names.size() < 2)
    return names.empty() ? "" : names.front();
  return fmt::format("{} and {}", fmt::join(names.begin(), names.end() - 1, ", "), names.back());
}

std::string lower(std::string_view text) {
  std::string result(text);
  std::transform(result.begin(), result.end(), result.begin(),
                 [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return result;
}

std::string words_of(const std::vector<Analyte>& analytes) {
  std::vector<std::string> names;
  for (const Analyte analyte : analytes)
    names.push_back(lower(word(analyte)));
  return listed(names);
}

std::string sums_sentence(const AssayFinding& finding) {
  switch (finding.kind) {
    case AssayFindingKind::ChargesDoNotBalance:
      return fmt::format(
          "The charges do not balance: {} exceed {} by {} of both together, more than the {} of a "
          "sound analysis. A major ion is wrong.",
          finding.measured > 0.0 ? "cations" : "anions",
          finding.measured > 0.0 ? "anions" : "cations", percent(std::abs(finding.measured)),
          percent(finding.needed));
    case AssayFindingKind::SalinityDoesNotFit:
      return fmt::format(
          "The ions add up to {:.1f} g/kg, but the sample is said to have {:.1f} g/kg: its "
          "salinity or a major ion is wrong.",
          finding.measured, finding.needed);
    default:
      return fmt::format(
          "All that was analysed together is {:.1f} g/kg, more than the {:.1f} g/kg of salt in the "
          "sample.",
          finding.measured, finding.needed);
  }
}

std::string_view slip(double factor) {
  if (factor > 1.0)
    return factor > 1e4 ? "a millionth of" : "a thousandth of";
  return factor < 1e-4 ? "a million times" : "a thousand times";
}

// As it was written, else as it would be shown.
std::string given(const AssayFinding& finding, Analyte analyte, const Assay& assay) {
  const auto found = assay.values.find(analyte);
  if (found != assay.values.end() && !found->second.written.empty())
    return found->second.written;
  return show_with_unit(finding.measured, analyte, config::water_of(assay));
}

std::string value_sentence(const AssayFinding& finding, Analyte analyte, const Assay& assay) {
  const WaterOfSample water = config::water_of(assay);
  const std::string measured = given(finding, analyte, assay);
  const std::string usual = show_with_unit(finding.needed, analyte, water);
  const std::string meant = show_with_unit(finding.factor * finding.measured, analyte, water);
  switch (finding.kind) {
    case AssayFindingKind::UnitSlip:
      return fmt::format("{} is {} what sea water has: was {} meant?", measured,
                         slip(finding.factor), meant);
    case AssayFindingKind::BelongsToAnother:
      return fmt::format(
          "{} is what sea water has of {}, and that has what this should have: are the two "
          "exchanged?",
          measured, lower(word(finding.other.value_or(analyte))));
    case AssayFindingKind::ProbablyAnotherForm:
      return fmt::format(
          "{} is hardly meant, sea water has {}: probably the value is of another form, and {} is "
          "right.",
          measured, usual, meant);
    case AssayFindingKind::FarFromSeaWater:
      return fmt::format("{} is far from the {} of sea water.", measured, usual);
    default:
      return fmt::format("{} cannot be in this water.", measured);
  }
}

std::string best_sentence(const Ranking& ranking, std::span<const Lot> lots, const Tank& tank,
                          const ChangePlan& plan) {
  std::vector<std::string> alike;
  for (const RankedLot& each : ranking.lots)
    if (each.place == ranking.lots.front().place)
      alike.push_back(name_of(lots[each.lot]));
  std::string text;
  if (alike.size() > 1)
    text = fmt::format(
        "{} cannot be told apart: what they differ by is less than what their analyses leave open "
        "(95 %).",
        listed(alike));
  else
    text = fmt::format("{} does {} most good: with {} it comes nearest to what is wanted.",
                       alike.front(), tank.name, show(plan));
  if (!ranking.decided_by.empty())
    text += fmt::format(" Compared by {}.", words_of(ranking.decided_by));
  return text;
}

StepSentence step_sentence(std::string_view what, double step, double limit, std::string_view unit,
                           std::string_view remedy) {
  const std::string moves = fmt::format("One change moves the {} by {:+.2f} {}", what, step, unit);
  if (std::abs(step) > limit)
    return {fmt::format("{}, more than the {:.2f} {} it may: {}.", moves, limit, unit, remedy),
            true, true};
  return {fmt::format("{}, within the {:.2f} {} it may.", moves, limit, unit), false,
          std::abs(step) >= smallest_shown_step};
}

}  // namespace

std::string_view word(AnalyteGroup group) {
  switch (group) {
    case AnalyteGroup::MajorIon:
      return "major ions";
    case AnalyteGroup::Nutrient:
      return "nutrients";
    case AnalyteGroup::Trace:
      return "trace elements";
    case AnalyteGroup::Contaminant:
      return "contaminants";
  }
  return "";
}

std::string_view word(AssayFindingKind kind) {
  switch (kind) {
    case AssayFindingKind::ChargesDoNotBalance:
      return "charges-do-not-balance";
    case AssayFindingKind::SalinityDoesNotFit:
      return "salinity-does-not-fit";
    case AssayFindingKind::Impossible:
      return "impossible";
    case AssayFindingKind::UnitSlip:
      return "unit-slip";
    case AssayFindingKind::BelongsToAnother:
      return "belongs-to-another";
    case AssayFindingKind::ProbablyAnotherForm:
      return "probably-another-form";
    case AssayFindingKind::FarFromSeaWater:
      return "far-from-sea-water";
  }
  return "";
}

std::string_view word(VetoReason reason) {
  switch (reason) {
    case VetoReason::AboveLimit:
      return "above-limit";
    case VetoReason::DetectionLimitAboveLimit:
      return "detection-limit-above-limit";
    case VetoReason::Expired:
      return "expired";
  }
  return "";
}

std::string_view word(Kinetics kinetics) {
  return kinetics == Kinetics::Proportional ? "proportional" : "constant-rate";
}

std::string_view word(ExchangeMode mode) {
  return mode == ExchangeMode::Continuous ? "continuous" : "discrete";
}

std::string three_digits(double number) {
  const double size = std::abs(number);
  const int decimals =
      size > 0.0 ? std::clamp(2 - static_cast<int>(std::floor(std::log10(size))), 0, 9) : 0;
  std::string text = fmt::format("{:.{}f}", number, decimals);
  if (text.find('.') != std::string::npos)
    text.erase(text.find_last_not_of('0') + 1);
  if (text.ends_with('.'))
    text.pop_back();
  return text;
}

WaterOfSample water_of(const Tank& tank) {
  return {tank.salinity, tank.temperature, false};
}

WaterOfSample water_of(const Assay& assay) {
  return {assay.salinity, assay.temperature, false};
}

std::string name_of(const Lot& lot) {
  return lot.version > 1 ? fmt::format("{}/{}", lot.name, lot.version) : lot.name;
}

std::string show_range(const ContentRange& range, Analyte analyte, const WaterOfSample& water) {
  const std::string high = show_number(range.high, analyte, water);
  return range.low > 0.0 ? fmt::format("{}-{}", show_number(range.low, analyte, water), high)
                         : fmt::format("up to {}", high);
}

std::string show_consumption(const Consumption& consumption, Analyte analyte,
                             const WaterOfSample& water) {
  if (consumption.kinetics == Kinetics::Proportional)
    return fmt::format("{} a day", percent(consumption.per_day));
  return fmt::format("{} a day", show_with_unit(consumption.per_day, analyte, water));
}

std::string show(const ChangePlan& plan) {
  const std::string interval = show(plan.interval);
  if (plan.mode == ExchangeMode::Continuous)
    return fmt::format("{} exchanged continuously in {}, {}", percent(plan.fraction), interval,
                       times(plan.changes, "time"));
  if (plan.changes == 1)
    return fmt::format("one change of {}", percent(plan.fraction));
  return fmt::format("{} of {} each {}", times(plan.changes, "change"), percent(plan.fraction),
                     interval);
}

std::string sentence(const AssayFinding& finding, const Assay& assay) {
  if (!finding.analyte)
    return sums_sentence(finding);
  return fmt::format("{}: {}", word(*finding.analyte),
                     value_sentence(finding, *finding.analyte, assay));
}

std::string headline(const Ranking& ranking, std::span<const Lot> lots, const Tank& tank,
                     const ChangePlan& plan) {
  if (ranking.lots.empty())
    return "There is no lot to rank.";
  if (!ranking.lots.front().vetoes.empty())
    return fmt::format("No lot may be used in {}: each is vetoed.", tank.name);
  if (ranking.decided_by.empty())
    return fmt::format(
        "The lots cannot be ranked: nothing that is wanted of {} is named by its tests and by "
        "every lot.",
        tank.name);
  return best_sentence(ranking, lots, tank, plan);
}

std::string sentence(const Veto& veto, const Lot& lot, const Tank& tank) {
  if (veto.reason == VetoReason::Expired || !veto.analyte)
    return fmt::format("{} has expired.", name_of(lot));
  const WaterOfSample water = config::water_of(tank);
  const std::string content = show_with_unit(veto.content, *veto.analyte, water);
  const std::string limit = show_with_unit(veto.limit, *veto.analyte, water);
  if (veto.reason == VetoReason::DetectionLimitAboveLimit)
    return fmt::format(
        "{}: what was not found of it may still bring {} to {}, and it is never to be above {}.",
        word(*veto.analyte), tank.name, content, limit);
  return fmt::format("{}: {} would come to as much as {}, and is never to be above {}.",
                     word(*veto.analyte), tank.name, content, limit);
}

std::string sentence(const Deciding& deciding, const Tank& tank, const ChangePlan& plan) {
  const WaterOfSample water{plan.salinity, tank.temperature, false};
  const std::string has = fmt::format("{}: has {}", word(deciding.analyte),
                                      show_with_unit(deciding.new_water, deciding.analyte, water));
  if (deciding.would_need < 0.0)
    return has + "; none at all would not be little enough.";
  return fmt::format("{}; {} would be right.", has,
                     show_with_unit(deciding.would_need, deciding.analyte, water));
}

std::string sentence(const InRange& in_range, const CensoredValue& tends_to, Analyte analyte,
                     const Tank& tank, const ChangePlan& plan) {
  if (!in_range.changes)
    return fmt::format("never for good: it tends to {}",
                       show_content(tends_to, analyte, config::water_of(tank)));
  std::string first = *in_range.changes == 0 ? "is there now and stays"
                                             : "after " + times(*in_range.changes, each_of(plan));
  if (!in_range.surely)
    return first + ", but never surely";
  if (*in_range.surely == *in_range.changes)
    return first;
  return fmt::format("{}, surely after {}", first, *in_range.surely);
}

std::vector<StepSentence> sentences(const TankStep& step, const Tank& tank,
                                    const ChangePlan& plan) {
  const auto ppt = [](PracticalSalinity s) { return reference_salinity(s).value(); };
  return {
      step_sentence("salinity", ppt(step.salinity), ppt(tank.salinity_step), "ppt",
                    fmt::format("change less at a time, or mix nearer to {} than {}",
                                show(tank.salinity), show(plan.salinity))),
      step_sentence("temperature", step.temperature.value(), tank.temperature_step.value(), "°C",
                    fmt::format("change less at a time, or bring the new water nearer to {}",
                                show(tank.temperature)))};
}

bool agrees(const Outcome& outcome) {
  return std::abs(outcome.score) <= disagreement;
}

std::string sentence(const Outcome& outcome, const Tank& tank) {
  const WaterOfSample water = config::water_of(tank);
  const std::string start = fmt::format("{}: foretold {}, measured {}", word(outcome.analyte),
                                        show_content(outcome.foretold, outcome.analyte, water),
                                        show_content(outcome.measured, outcome.analyte, water));
  if (agrees(outcome))
    return start + ": they agree.";
  std::string text =
      fmt::format("{}: {} than can be by chance", start, outcome.score > 0.0 ? "more" : "less");
  if (!outcome.consumption_after)
    return text + ".";
  return fmt::format("{}; it would need {} used instead of {}.", text,
                     show_consumption(*outcome.consumption_after, outcome.analyte, water),
                     show_consumption(outcome.consumption_before, outcome.analyte, water));
}

}  // namespace brinegate::config
