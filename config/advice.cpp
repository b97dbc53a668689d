// SPDX-License-Identifier: Apache-2.0
#include "config/advice.h"

#include <cmath>
#include <numeric>

#include <fmt/format.h>

#include "config/advice_pump.h"
#include "config/composition_advice.h"
#include "config/measured.h"
#include "config/quantity.h"
#include "config/waiver_advice.h"
#include "config/words.h"
#include "rules/check_catalogue.h"
#include "rules/conformity.h"
#include "rules/seawater.h"
#include "rules/statistics.h"

namespace brinegate::config {
namespace {

// A forecast less certain than this says nothing but that salt is dissolving.
constexpr double most_told_psu = 1.0;
// A forecast to be acted on is surer than this share of the tolerance (standard uncertainty).
constexpr double sharp_share_of_tolerance = 0.25;

std::string value_text(CheckUnit unit, double value) {
  switch (unit) {
    case CheckUnit::Psu:
      return show(PracticalSalinity(value));
    case CheckUnit::PsuPerCelsius:
      return fmt::format("{:.2g} PSU/°C", value);
    case CheckUnit::DegreesCelsius:
      return show(Celsius(value));
    case CheckUnit::VolumeLitres:
      return show(Litres(value));
    case CheckUnit::Seconds:
      return show(from_seconds(value));
    case CheckUnit::None:
      break;
  }
  return fmt::format("{:g}", value);
}

std::string why_bad(const ProbeTrouble& trouble) {
  if (trouble.reason == QualityReason::Fault)
    return std::string(word(trouble.fault));
  return std::string(word(trouble.reason));
}

// The two points at which a probe's display is read.
std::string_view two_points(Measures measures) {
  switch (measures) {
    case Measures::Temperature:
      return "read its display in waters 5 °C apart";
    case Measures::Level:
    case Measures::TankLevel:
      return "read the vessel's scale at two heights";
    case Measures::Flow:
    case Measures::DrainFlow:
      return "read its display with and without flow";
    default:
      return "read its display in two different waters, such as fresh water and a standard,";
  }
}

std::string names(const CheckResult& check, const brinegate::Station& station, bool with_reason) {
  std::string text;
  for (const ProbeTrouble& trouble : check.troubles) {
    text +=
        fmt::format("{}{}", text.empty() ? "" : ", ", station.spec().probes[trouble.probe].name);
    if (with_reason)
      text += fmt::format(" ({})", why_bad(trouble));
  }
  return text;
}

std::string in_time(const CheckResult& check) {
  return check.time_left ? fmt::format(", about {} to go", show(*check.time_left)) : "";
}

std::string salinity_sentence(const CheckResult& check) {
  if (!check.measured)
    return "No salinity to judge yet.";
  switch (check.verdict) {
    case Verdict::Met:
      return fmt::format("On target at {}, with a risk of {:.2g} % of being out of tolerance.",
                         measured_text(check), 100.0 * check.risk.value_or(1.0));
    case Verdict::Waiting:
      return fmt::format("Salinity is {} so far.", measured_text(check));
    default:
      break;
  }
  if (*check.measured < *check.needed_low)
    return fmt::format("Too weak: {}, needed {}.", measured_text(check), needed_text(check));
  if (*check.measured > *check.needed_high)
    return fmt::format("Too strong: {}, needed {}.", measured_text(check), needed_text(check));
  return fmt::format(
      "Too close to the limit: {} is inside {}, but with a risk of {:.2g} % that the water is not; "
      "at most {:.2g} % is accepted.",
      measured_text(check), needed_text(check), 100.0 * check.risk.value_or(1.0),
      100.0 * check.risk_accepted.value_or(0.0));
}

std::string dose_sentence(const CheckResult& check, const brinegate::Station& station) {
  switch (check.verdict) {
    case Verdict::Met:
      return "The salt weighed in is what is measured.";
    case Verdict::Waiting:
      return check.needed_low ? "Compared with the salt weighed in once it has dissolved."
                              : "Waiting for the salt to be noted and the water to be measured.";
    case Verdict::NotAsked:
      return "No salt was noted, so the dose is no witness.";
    case Verdict::Violated:
      break;
  }
  std::string text = "Not as dosed";
  if (check.needed_low && check.needed_high)
    text +=
        fmt::format(": weighed in it must be {}, measured is {}",
                    show(PracticalSalinity(std::midpoint(*check.needed_low, *check.needed_high))),
                    measured_text(check));
  const bool by_level = station.dose() && station.dose()->volume.by_level;
  for (const DoseExplanation& each : check.explanations)
    text += fmt::format("{}{}", &each == &check.explanations.front() ? ". Most likely " : ", or ",
                        explanation_text(each, by_level));
  text += ". Find out which before you use the water.";
  const Batch& batch = station.batch();
  if (batch.product.learned && batch.lots.parts.size() == 1)
    text += fmt::format(
        " If earlier batches of {0} were not weighed in as noted, what was learned of it is wrong: "
        "forget it with `brinegate lot unlearn {0}`, and begin again.",
        batch.lot);
  return text;
}

std::string temperature_sentence(const CheckResult& check) {
  if (!check.measured)
    return "No temperature to judge.";
  if (check.verdict == Verdict::Met)
    return fmt::format("Temperature is {}.", measured_text(check));
  if (*check.measured < *check.needed_low)
    return fmt::format("Too cold: {}, needed {}. Let the heater work.", measured_text(check),
                       needed_text(check));
  if (*check.measured > *check.needed_high)
    return fmt::format("Too warm: {}, needed {}. Let it cool down.", measured_text(check),
                       needed_text(check));
  return fmt::format("Temperature is {}, too near its limit or on its way out.",
                     measured_text(check));
}

std::string dissolving_sentence(const CheckResult& check, const Forecast& forecast) {
  if (forecast.remaining_uncertainty > most_told_psu)
    return "Still dissolving, too early to say where it ends.";
  return fmt::format("Still dissolving: it will end at {} ± {}, in {} to {}; up to {} may come.",
                     show(forecast.final),
                     show(PracticalSalinity(two_sided_95_percent * forecast.final_uncertainty)),
                     show(forecast.time_left_low), show(forecast.time_left_high),
                     measured_text(check));
}

std::string proof_sentence(const brinegate::Station& station) {
  switch (station.batch().phase) {
    case BatchPhase::Empty:
      return "No batch has begun: begin one.";
    case BatchPhase::Filling:
      return "Filling: add the salt and note it.";
    case BatchPhase::Rejected:
      return "The batch is rejected: correct it or dispose of it.";
    case BatchPhase::Proven:
    case BatchPhase::Drawing:
      return fmt::format("Proven: {}.", what_is_proven(station.batch()));
    case BatchPhase::Mixing:
      break;
  }
  if (station.batch().voided != ProofVoid::None)
    return fmt::format("To be proven afresh: {}.", word(station.batch().voided));
  return "Not proven yet.";
}

// What to do for the first of them, so that it can be copied.
std::string verification_sentence(const CheckResult& check, const brinegate::Station& station) {
  if (check.troubles.empty())
    return check.verdict == Verdict::Met ? "Every register map was verified at two points."
                                         : "A register map is not verified.";
  const std::size_t index = check.troubles.front().probe;
  const ProbeSpec& probe = station.spec().probes[index];
  const auto& points = station.verification(index).points;
  const std::string command =
      fmt::format("brinegate probe verify {} {} --shows", station.spec().name, probe.name);
  std::string text;
  if (is_contact(probe.measures)) {
    const ContactWords words = contact_words(probe.measures);
    text = fmt::format("Verify {0}: bring it to read {1} and {2}, and tell each time: {3} {1}",
                       probe.name, words.one, words.zero, command);
  } else {
    text = fmt::format("Verify {}: {} and tell what it shows each time: {} \"...\"", probe.name,
                       two_points(probe.measures), command);
  }
  if (points.size() == 1)
    text += fmt::format("; it agreed at {}, one more point is needed",
                        show_measured(probe.measures, points.front().shown));
  if (check.troubles.size() > 1)
    text += fmt::format("; {} to verify in all: {}", check.troubles.size(),
                        names(check, station, false));
  return text + ".";
}

std::string instrument_sentence(const CheckResult& check, const brinegate::Station& station) {
  const bool met = check.verdict == Verdict::Met;
  switch (check.id) {
    case CheckId::RecordKept:
      return met ? "The record is being kept."
                 : "The record cannot be written: check the disk's space and health.";
    case CheckId::ProbesGood:
      return met ? "Every probe is good."
                 : fmt::format("No good reading of {}: check the probe and its line.",
                               names(check, station, true));
    case CheckId::ProbesVerified:
      return verification_sentence(check, station);
    case CheckId::RealSource:
      return met ? "Every source is real."
                 : fmt::format("{} is simulated, and the pump is real.",
                               names(check, station, false));
    case CheckId::CellsAgree:
      if (!check.measured)
        return "Waiting for every cell.";
      if (check.verdict == Verdict::Waiting)
        return "Compared with each other once the salt has dissolved.";
      return met ? "The cells agree."
                 : fmt::format("{} disagree by {}, allowed {}: clean and calibrate both.",
                               names(check, station, false),
                               show(PracticalSalinity(*check.measured)),
                               show(PracticalSalinity(*check.needed_high)));
    case CheckId::TemperatureFlat:
      if (check.verdict == Verdict::Waiting)
        return "Too early to tell whether the salinity follows the temperature.";
      return met ? "The salinity does not follow the temperature."
                 : fmt::format(
                       "The salinity follows the temperature by {}: its compensation is "
                       "missing or doubled. Compare the probe's setting with \"measures\" "
                       "in the configuration.",
                       measured_text(check));
    default:
      return "";
  }
}

std::string water_sentence(const CheckResult& check, const brinegate::Station& station) {
  const bool met = check.verdict == Verdict::Met;
  switch (check.id) {
    case CheckId::Uniform:
      if (met)
        return "The same everywhere.";
      if (!check.troubles.empty())
        return fmt::format("Not the same everywhere: {} differ.", names(check, station, false));
      return fmt::format("Circulated evenly for {} of {}{}.", measured_text(check),
                         show(from_seconds(check.needed_low.value_or(0.0))), in_time(check));
    case CheckId::OnTarget:
      return salinity_sentence(check);
    case CheckId::Dissolved:
      if (met)
        return "Dissolved.";
      if (!check.measured)
        return fmt::format("Watching it dissolve{}.", in_time(check));
      return dissolving_sentence(check, station.settling().forecast);
    case CheckId::AsDosed:
      return dose_sentence(check, station);
    case CheckId::Circulated:
      return met ? "Circulated long enough."
                 : fmt::format("Circulated for {} of {}{}.", measured_text(check),
                               show(station.batch().profile.circulate), in_time(check));
    case CheckId::TemperatureRight:
      return temperature_sentence(check);
    case CheckId::NotTooOld:
      if (check.verdict == Verdict::Waiting)
        return "Its age is not known yet.";
      return met ? "Fresh enough." : "Too old: dispose of it and mix a new batch.";
    case CheckId::BatchProven:
      return proof_sentence(station);
    default:
      return "";
  }
}

// What a person wants to hear first when several checks are not met: what is wrong, then what is
// missing, in the order in which a batch is lived.
const CheckResult* most_telling(const brinegate::Station& station) {
  const auto& checks = station.checks();
  for (const CheckResult& check : checks)
    if (check.verdict == Verdict::Violated && !lets_through(check) &&
        check.id != CheckId::BatchProven)
      return &check;
  // Before a batch is mixed for nothing: no passing of time meets it.
  const CheckResult& verified = checks[static_cast<std::size_t>(CheckId::ProbesVerified)];
  if (!lets_through(verified))
    return &verified;
  if (!station.batch().in_progress() || station.batch().phase == BatchPhase::Filling)
    return &checks[static_cast<std::size_t>(CheckId::BatchProven)];
  const CheckResult* longest = nullptr;
  for (const CheckResult& check : checks) {
    if (lets_through(check) || check.id == CheckId::BatchProven)
      continue;
    if (longest == nullptr || check.time_left > longest->time_left)
      longest = &check;
  }
  return longest;
}

std::string what_may_run(const brinegate::Station& station) {
  if (!station.change() || !station.change()->exchange)
    return "the pump may run";
  switch (station.change()->exchange->phase()) {
    case ExchangePhase::Draining:
      return "the drain takes old water out of the tank";
    case ExchangePhase::Returning:
      return "the pump may run";
    default:
      return "the levels come to rest";
  }
}

}  // namespace

std::string measured_text(const CheckResult& check) {
  return check.measured ? value_text(check_row(check.id).unit, *check.measured) : "";
}

std::string needed_text(const CheckResult& check) {
  const CheckUnit unit = check_row(check.id).unit;
  if (check.needed_low && check.needed_high)
    return fmt::format("{} to {}", value_text(unit, *check.needed_low),
                       value_text(unit, *check.needed_high));
  if (check.needed_low)
    return fmt::format("at least {}", value_text(unit, *check.needed_low));
  if (check.needed_high)
    return fmt::format("at most {}", value_text(unit, *check.needed_high));
  return "";
}

std::string sentence(const CheckResult& check, const brinegate::Station& station) {
  if (check.verdict == Verdict::NotAsked && check.id != CheckId::AsDosed)
    return "Not asked for here.";
  for (const auto& text : {instrument_sentence(check, station), pump_sentence(check, station),
                           water_sentence(check, station), composition_sentence(check, station)})
    if (!text.empty())
      return text;
  return "";
}

std::string headline(const brinegate::Station& station, MonoTime now) {
  const auto drawn = [&station] {
    return station.change() && station.change()->run
               ? fmt::format(" {} of {} drawn.", show(station.change()->run->drawn()),
                             show(station.change()->asked))
               : std::string();
  };
  if (station.gate().state() == GateState::Open)
    return fmt::format("Open: {}.{}", what_may_run(station), drawn());
  const CheckResult* telling = most_telling(station);
  if (telling == nullptr) {
    if (station.batch().phase == BatchPhase::Mixing ||
        station.batch().phase == BatchPhase::Rejected)
      return "Shut: every demand is met; proving.";
    const auto wait = station.dwell_left(now);
    if (wait && *wait > Duration::zero())
      return fmt::format("Shut: everything is met, ready in {}.", show(*wait));
    return fmt::format("Shut: proven and ready ({}); nothing asks for water.",
                       what_is_proven(station.batch()));
  }
  std::string reason = sentence(*telling, station);
  if (station.batch().phase == BatchPhase::Rejected)
    for (const Correction& correction : corrections_for(station))
      if (correction.fits)
        return fmt::format("Shut: {} {}", reason, sentence(correction));
  return fmt::format("Shut: {}", reason);
}

std::string explanation_text(const DoseExplanation& explanation, bool by_level) {
  const double off = std::abs(explanation.amount);
  const bool more = explanation.amount > 0.0;  // than was said
  switch (explanation.suspect) {
    case DoseSuspect::Weight:
      return fmt::format("{} {} salt was weighed in than noted", show(Grams(off)),
                         more ? "more" : "less");
    case DoseSuspect::Volume:
      return by_level ? fmt::format("the level reads {} too {}", show(Litres(off)),
                                    more ? "little" : "much")
                      : fmt::format("{} {} water is there than noted", show(Litres(off)),
                                    more ? "more" : "less");
    case DoseSuspect::Yield: {
      const double taken = explanation.amount / explanation.relative;
      return fmt::format("{:.1f} % of the product is dry salt, not {:.1f} %",
                         100.0 * (taken + explanation.amount), 100.0 * taken);
    }
    case DoseSuspect::Probe:
      return fmt::format("the cells read {} too {}", show(PracticalSalinity(off)),
                         more ? "little" : "much");
  }
  return "";
}

std::optional<Uncertain<PracticalSalinity>> final_salinity(const brinegate::Station& station) {
  const CheckResult& target = station.checks()[static_cast<std::size_t>(CheckId::OnTarget)];
  const auto& final = station.settling().final_salinity;
  if (station.batch().is_proven() || !final)
    return std::nullopt;
  if (target.verdict == Verdict::Violated)
    return final;
  // While it dissolves: once the forecast is sharp enough to act on, and says that it will end off.
  const double tolerance = station.batch().profile.tolerance.value();
  const bool sharp =
      station.settling().forecast.final_uncertainty <= sharp_share_of_tolerance * tolerance;
  const bool off =
      nonconformance_probability(final->value.value(), final->standard_uncertainty.value(),
                                 *target.needed_low, *target.needed_high) > 0.5;
  return sharp && off ? final : std::nullopt;
}

std::vector<Correction> corrections_for(const brinegate::Station& station,
                                        const Uncertain<PracticalSalinity>& final_salinity) {
  const Batch& batch = station.batch();
  if (!batch.in_progress() || !station.temperature())
    return {};
  const auto volume = volume_of(batch, station.volume(), *station.temperature(), station.spec());
  if (!volume)
    return {};
  const auto found =
      corrections(Water{volume->litres.value, final_salinity.value}, batch.profile.target,
                  station.spec().capacity, batch.product, *station.temperature(),
                  {volume->litres.standard_uncertainty, final_salinity.standard_uncertainty});
  return found ? found.value() : std::vector<Correction>{};
}

std::vector<Correction> corrections_for(const brinegate::Station& station) {
  const auto coming = final_salinity(station);
  return coming ? corrections_for(station, *coming) : std::vector<Correction>{};
}

std::string sentence(const Correction& correction) {
  const std::string then =
      fmt::format(": lands at {} in {}.",
                  show(Uncertain<PracticalSalinity>{correction.after.salinity,
                                                    correction.standard_uncertainty}),
                  show(correction.after.volume));
  switch (correction.action) {
    case CorrectionAction::AddSalt:
      if (correction.remove.value() > 0.0)
        return fmt::format("Take out {} and add {} of salt{}", show(correction.remove),
                           show(correction.salt), then);
      return fmt::format("Add {} of salt{}", show(correction.salt), then);
    case CorrectionAction::AddWater:
      return fmt::format("Add {} of fresh water{}", show(correction.water), then);
    case CorrectionAction::ReplaceWithWater:
      return fmt::format("Take out {} and add {} of fresh water{}", show(correction.remove),
                         show(correction.water), then);
  }
  return "";
}

std::string sentence(const std::string& lot, const LotYield& yield) {
  const SaltProduct product = product_of(yield);
  const PracticalSalinity usual = Profile{}.target;
  return fmt::format(
      "{} yields {:.1f} ± {:.1f} % of dry salt, learned from {} {}: {:.1f} g a litre for {}.", lot,
      100.0 * product.dry_fraction, 196.0 * product.dry_fraction * product.dry_fraction_uncertainty,
      yield.batches, yield.batches == 1 ? "batch" : "batches", grams_per_litre_for(usual, product),
      show(usual));
}

std::string sentence(const Comparison& compared) {
  const auto shown = [&](double value) { return show_measured(compared.measures, value); };
  const std::string both = fmt::format("{} is read, {} is shown", shown(compared.point.read),
                                       shown(compared.point.shown));
  if (!compared.agrees)
    return fmt::format("Refused: {}: they disagree, and the probe is not verified.", both);
  if (compared.verified)
    return fmt::format("Done: {}: the probe is verified.", both);
  if (is_contact(compared.measures))
    return fmt::format("Done: {}: now bring it to read {} and tell that too.", both,
                       shown(1.0 - compared.point.shown));
  return fmt::format("Done: {}: one more point is needed, {} away or more.", both,
                     show_difference(compared.measures, compared.least_distance));
}

std::string sentence(const CommandAnswer& answer) {
  switch (answer.code) {
    case AnswerCode::Done:
      return answer.compared ? sentence(*answer.compared) : "Done.";
    case AnswerCode::NothingArrives:
      return "Refused: no number arrives from the probe; look at its line, unit and register "
             "first.";
    case AnswerCode::DisplayDisagrees:
      return answer.compared ? sentence(*answer.compared) : "Refused: the display disagrees.";
    case AnswerCode::ChecksNotMet:
      return "Refused: not every check is met.";
    case AnswerCode::DwellNotOver:
      return fmt::format("Refused: everything is met, but only just; ask again in {}.",
                         show(answer.wait.value_or(Duration::zero())));
    case AnswerCode::NoBatch:
      return "Refused: no batch is in progress; begin one.";
    case AnswerCode::BatchInProgress:
      return "Refused: a batch is in progress; abandon it first.";
    case AnswerCode::ChangeRunning:
      return "Refused: a water change is running; wait for its end or stop it.";
    case AnswerCode::NoChangeRunning:
      return "Refused: no water change is running.";
    case AnswerCode::NoPump:
      return "Refused: this station has no gated pump.";
    case AnswerCode::PermittedWhileProven:
      return "Refused: this pump needs no change asked for; it may run while the batch is proven.";
    case AnswerCode::NothingNoted:
      return "Refused: nothing to note; say what was added or removed.";
    case AnswerCode::VolumeNotPositive:
      return "Refused: the volume must be more than nothing.";
    case AnswerCode::VolumeAboveMaximum:
      return fmt::format("Refused: more than one change may draw, which is {} (max_volume).",
                         show(answer.limit.value_or(Litres(0.0))));
    case AnswerCode::VolumeNotThere:
      return fmt::format("Refused: only {} are there above the low level.",
                         show(answer.limit.value_or(Litres(0.0))));
    case AnswerCode::NothingToAcknowledge:
      return "Refused: that alarm does not wait to be acknowledged.";
    case AnswerCode::ProbeNotGood:
      return "Refused: the probe has no good reading; put it into the standard and wait.";
    case AnswerCode::CalibrationImplausible:
      return fmt::format("Refused: {}.", answer.detail);
    case AnswerCode::StillDissolving:
      return "Refused: the water is not settled yet: test it by hand once its salt has dissolved.";
    case AnswerCode::NeverWaivable:
      return fmt::format("Refused: nobody can waive this check. A profile can allow it of: {}.",
                         all_waivable());
    case AnswerCode::NotWaivable:
      return "Refused: the batch's profile does not allow this check to be waived ('waivable', "
             "before the batch begins).";
    case AnswerCode::NothingWaived:
      return "Refused: this check is not waived.";
    case AnswerCode::Superseded:
      return "Refused: something else was asked at the same moment; ask again.";
    case AnswerCode::Ending:
      return "Refused: the daemon is stopping.";
  }
  return "";
}

}  // namespace brinegate::config
