// SPDX-License-Identifier: Apache-2.0
#include "daemon/engine/view.h"

#include <array>
#include <cmath>
#include <string_view>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "config/advice.h"
#include "config/chemistry/content_words.h"
#include "config/measured.h"
#include "config/waiver_advice.h"
#include "config/words.h"
#include "daemon/engine/chemistry_json.h"
#include "rules/check_catalogue.h"
#include "rules/seawater.h"
#include "rules/verification.h"
#include "rules/waiver.h"

namespace brinegate::daemon {
namespace {

using config::word;

constexpr double psu_to_ppt = 35.16504 / 35.0;

std::string_view unit_of(Measures measures) {
  switch (measures) {
    case Measures::Conductivity:
    case Measures::CompensatedConductivity:
      return "mS/cm";
    case Measures::Salinity:
      return "PSU";
    case Measures::Temperature:
      return "C";
    case Measures::Level:
    case Measures::TankLevel:
      return "L";
    case Measures::Flow:
    case Measures::DrainFlow:
      return "L/min";
    default:
      return "";
  }
}

Json verified_view(const Station& station, std::size_t probe) {
  const ProbeSpec& spec = station.spec().probes[probe];
  return needs_verification(spec) ? Json(is_verified(spec, station.verification(probe))) : Json();
}

Json reading_view(const Station& station, std::size_t index, MonoTime now) {
  const ProbeSpec& probe = station.spec().probes[index];
  const Reading& reading = station.readings()[index];
  Json view = {{"value", nullptr},
               {"unit", unit_of(probe.measures)},
               {"shown", nullptr},
               {"quality", word(reading.quality())},
               {"reason", word(reading.reason())},
               {"age_s", nullptr},
               {"simulated", reading.simulated()},
               {"verified", verified_view(station, index)}};
  if (const auto value = reading.shown_value()) {
    view["value"] = rounded(*value, 4);
    view["shown"] = config::show_measured(probe.measures, *value);
    view["age_s"] = rounded(seconds(now - reading.taken()), 1);
  }
  return view;
}

Json lots_view(const Batch& batch) {
  Json lots = Json::array();
  for (const LotPart& part : batch.lots.parts)
    lots.push_back({{"lot", part.lot},
                    {"version", part.version},
                    {"share", rounded(part.share, 4)},
                    {"expired", has_expired(part, batch.age)}});
  return lots;
}

Json hand_tests_view(const Batch& batch) {
  Json tests = Json::object();
  for (const auto& [analyte, test] : batch.hand_tests)
    tests[symbol(analyte)] = {{"measured", test.written}, {"at", iso_time(test.at)}};
  return tests;
}

Json batch_view(const Batch& batch) {
  Json view = {{"id", batch.id},
               {"lot", batch.lot},
               {"lots", lots_view(batch)},
               {"expected", expected_view(batch)},
               {"hand_tests", hand_tests_view(batch)},
               {"profile", batch.profile.name},
               {"begun", iso_time(batch.begun)},
               {"target_g_kg", rounded(reference_salinity(batch.profile.target).value(), 3)},
               {"tolerance_g_kg", rounded(batch.profile.tolerance.value() * psu_to_ppt, 3)},
               {"salt_factor", batch.salt_factor.value},
               {"salt_factor_uncertainty", rounded(batch.salt_factor.standard_uncertainty, 5)},
               {"salt_g", batch.salt_noted ? rounded(batch.salt.value(), 1) : Json()},
               {"dry_fraction", rounded(batch.product.dry_fraction, 4)},
               {"dry_fraction_uncertainty", rounded(batch.product.dry_fraction_uncertainty, 4)},
               {"dry_fraction_learned", batch.product.learned},
               {"circulated_s", rounded(seconds(batch.circulated), 0)},
               {"age_s", rounded(seconds(batch.age), 0)},
               {"drawn_l", rounded(batch.drawn.value(), 2)},
               {"proof", nullptr}};
  if (batch.proof)
    view["proof"] = {
        {"at", iso_time(batch.proof->at)},
        {"salinity_g_kg", rounded(reference_salinity(batch.proof->salinity).value(), 3)},
        {"temperature_c", rounded(batch.proof->temperature.value(), 2)},
        {"risk", batch.proof->risk},
        {"says", config::what_is_proven(batch)}};
  return view;
}

Json budget_view(const UncertaintyBudget& budget) {
  const auto ppt = [](double psu) { return rounded(psu * psu_to_ppt, 4); };
  return {{"calibration", ppt(budget.calibration)},    {"drift", ppt(budget.drift)},
          {"resolution", ppt(budget.resolution)},      {"noise", ppt(budget.noise)},
          {"temperature", ppt(budget.temperature)},    {"salt_factor", ppt(budget.salt_factor)},
          {"extrapolation", ppt(budget.extrapolation)}};
}

Json estimate_view(const Station& station) {
  const SalinityEstimate& estimate = station.salinity();
  if (!estimate.value)
    return {};
  Json view = salinity_view(*estimate.value);
  view["standard_uncertainty_g_kg"] = rounded(estimate.standard_uncertainty * psu_to_ppt, 4);
  view["systematic_uncertainty_g_kg"] = rounded(estimate.systematic_uncertainty * psu_to_ppt, 4);
  view["budget_g_kg"] = budget_view(estimate.budget);
  Json cells = Json::object();
  for (const CellEstimate& cell : estimate.cells)
    cells[station.spec().probes[cell.probe].name] = {
        {"reference_salinity_g_kg", rounded(reference_salinity(cell.salinity).value(), 4)},
        {"budget_g_kg", budget_view(cell.budget)}};
  view["cells"] = std::move(cells);
  return view;
}

// Of the batch's profile, with the probes as they are now.
// Where the salinity goes. Uncertainties are standard ones; the final one's has the instruments' in
// it, the others only the course's.
Json forecast_view(const Settling& settling) {
  if (!settling.known || !settling.final_salinity)
    return {};
  const Forecast& forecast = settling.forecast;
  const auto g_kg = [](PracticalSalinity s) { return rounded(reference_salinity(s).value(), 4); };
  return {{"final_g_kg", g_kg(settling.final_salinity->value)},
          {"final_uncertainty_g_kg", g_kg(settling.final_salinity->standard_uncertainty)},
          {"remaining_g_kg", rounded(forecast.remaining * psu_to_ppt, 4)},
          {"remaining_uncertainty_g_kg", rounded(forecast.remaining_uncertainty * psu_to_ppt, 4)},
          {"settled_probability", rounded(forecast.settled_probability, 4)},
          {"time_left_s", rounded(seconds(forecast.time_left), 0)},
          {"time_left_low_s", rounded(seconds(forecast.time_left_low), 0)},
          {"time_left_high_s", rounded(seconds(forecast.time_left_high), 0)}};
}

Json acceptance_view(const Station& station) {
  const Batch& batch = station.batch();
  const auto left = batch.in_progress() ? acceptance(station.spec().probes, station.conditions(),
                                                     batch.salt_factor, batch.profile)
                                        : std::nullopt;
  if (!left)
    return {};
  const auto ppt = [](PracticalSalinity psu) { return rounded(psu.value() * psu_to_ppt, 3); };
  Json wider = Json::array();
  for (const WiderZone& zone : left->wider)
    wider.push_back({{"by", word(zone.by)},
                     {"half_width_g_kg", ppt(zone.half_width)},
                     {"tolerance_g_kg", ppt(zone.tolerance)}});
  return {{"tolerance_g_kg", ppt(left->tolerance)},
          {"half_width_g_kg", left->half_width ? ppt(*left->half_width) : Json()},
          {"budget_g_kg", budget_view(left->budget)},
          {"wider", wider},
          {"sentence", config::sentence(*left)}};
}

Json correction_view(const Correction& c) {
  const double after = reference_salinity(c.after.salinity).value();
  const double half = reference_salinity(half_interval_95(Uncertain<PracticalSalinity>{
                                             c.after.salinity, c.standard_uncertainty}))
                          .value();
  return {{"action", word(c.action)},
          {"salt_g", rounded(c.salt.value(), 1)},
          {"water_l", rounded(c.water.value(), 3)},
          {"remove_l", rounded(c.remove.value(), 3)},
          {"salinity_after", rounded(after, 3)},
          {"salinity_after_low", rounded(after - half, 3)},
          {"salinity_after_high", rounded(after + half, 3)},
          {"standard_uncertainty_after_g_kg",
           rounded(reference_salinity(c.standard_uncertainty).value(), 4)},
          {"volume_after_l", rounded(c.after.volume.value(), 2)},
          {"fits", c.fits},
          {"sentence", config::sentence(c)}};
}

Json dose_view(const DoseWitness& dose) {
  const auto g_kg = [](PracticalSalinity s) { return rounded(reference_salinity(s).value(), 4); };
  return {{"predicted_g_kg", g_kg(dose.predicted.value)},
          {"standard_uncertainty_g_kg", g_kg(dose.predicted.standard_uncertainty)},
          {"from_weight_g_kg", g_kg(dose.from_weight)},
          {"from_volume_g_kg", g_kg(dose.from_volume)},
          {"from_yield_g_kg", g_kg(dose.from_yield)},
          {"from_rest_g_kg", g_kg(dose.from_rest)},
          {"volume_l", rounded(dose.volume.litres.value.value(), 2)},
          {"volume_by", dose.volume.by_level ? "level" : "note"}};
}

Json explanation_view(const DoseExplanation& e, const Station& station) {
  constexpr std::array<const char*, 4> amounts{"amount_g", "amount_l", "amount_dry_fraction",
                                               "amount_psu"};
  const bool by_level = station.dose() && station.dose()->volume.by_level;
  return {{"suspect", word(e.suspect)},
          {amounts[static_cast<std::size_t>(e.suspect)], rounded(e.amount, 4)},
          {"relative", rounded(e.relative, 4)},
          {"times_uncertainty", rounded(e.times_uncertainty, 2)},
          {"sentence", config::explanation_text(e, by_level)}};
}

Json content_view(const ContentFinding& finding, const Station& station) {
  const auto shown = [&](const std::optional<CensoredValue>& content) {
    return content ? Json(config::content_text(*content, finding.analyte, station.batch()))
                   : Json();
  };
  return {{"analyte", symbol(finding.analyte)},
          {"found", shown(finding.found)},
          {"needed", config::range_text(finding, station.batch())},
          {"expected", shown(finding.expected)},
          {"within", finding.within}};
}

Json exchange_view(const TankExchange& exchange) {
  Json view = amounts_view(exchange.amounts());
  view["step"] = word(exchange.phase());
  return view;
}

Json change_view(const WaterChange& change, MonoTime now) {
  return {{"permit", change.permit},
          {"asked_l", rounded(change.asked.value(), 2)},
          {"drawn_l", change.run ? rounded(change.run->drawn().value(), 2) : Json(0.0)},
          {"running_s", change.run ? rounded(seconds(change.run->elapsed(now)), 0) : Json()},
          {"exchange", change.exchange ? exchange_view(*change.exchange) : Json()}};
}

Json hold_off_view(const Station& station) {
  if (!station.spec().hold_off)
    return {};
  return {{"asked", station.hold_off().asked()}, {"confirmed", station.hold_off().confirmed()}};
}

Json unfinished_view(const UnfinishedExchange& left) {
  Json view = amounts_view(left.amounts);
  view["permit"] = left.permit;
  view["batch"] = left.batch;
  view["asked_l"] = rounded(left.asked.value(), 2);
  view["known"] = left.known;
  return view;
}

}  // namespace

Json rounded(double value, int decimals) {
  const double scale = std::pow(10.0, decimals);
  return std::round(value * scale) / scale;
}

Json salinity_view(PracticalSalinity salinity) {
  return {{"practical_salinity", rounded(salinity.value(), 4)},
          {"reference_salinity_g_kg", rounded(reference_salinity(salinity).value(), 4)}};
}

Json expected_view(const Batch& batch) {
  Json expected = Json::object();
  if (!batch.lots.composition)
    return expected;
  const PracticalSalinity salinity = batch.proof ? batch.proof->salinity : batch.profile.target;
  for (const AnalyteRow& row : analytes())
    if (const auto content = content_at(salinity, *batch.lots.composition, row.analyte))
      expected[symbol(row.analyte)] =
          config::show_content(*content, row.analyte, {salinity, Celsius(25.0), false});
  return expected;
}

Json waiver_view(const Waiver& waiver, MonoTime now) {
  return {{"by", waiver.person},
          {"reason", waiver.reason},
          {"granted", iso_time(waiver.granted)},
          {"until", iso_time(waiver.granted + waiver.length)},
          {"left_s", rounded(seconds(waiver.until - now), 0)},
          {"sentence", config::sentence(waiver, now)}};
}

Json check_view(const CheckResult& check, const Station& station, MonoTime now) {
  Json view = {{"id", check_row(check.id).name},
               {"title", check_row(check.id).title},
               {"verdict", word(check.verdict)},
               {"measured", config::measured_text(check)},
               {"needed", config::needed_text(check)},
               {"since_s", rounded(seconds(now - check.since), 0)},
               {"sentence", config::sentence(check, station)}};
  view["waivable"] =
      station.batch().in_progress() && station.batch().profile.waivable.contains(check.id);
  view["waived"] = nullptr;
  if (const Waiver* waiver = waiver_of(station.batch(), check.id); waiver && check.waived)
    view["waived"] = waiver_view(*waiver, now);
  if (check.risk)
    view["risk"] = *check.risk;
  for (const ContentFinding& finding : check.contents)
    view["contents"].push_back(content_view(finding, station));
  for (const DoseExplanation& explanation : check.explanations)
    view["explanations"].push_back(explanation_view(explanation, station));
  return view;
}

Json amounts_view(const ExchangeAmounts& amounts) {
  return {{"drained_l", rounded(amounts.drained.value(), 2)},
          {"returned_l", rounded(amounts.returned.value(), 2)},
          {"missing_l", rounded(amounts.missing().value(), 2)}};
}

Json alarm_view(const Alarm& alarm, const Station& station) {
  const config::AlarmText text = config::text_of(alarm.id, station);
  return {{"id", word(alarm.id)},
          {"state", word(alarm.state)},
          {"priority", word(priority_of(alarm.id))},
          {"cause", text.cause},
          {"consequence", text.consequence},
          {"action", text.action}};
}

Json permit_view(const Permit& permit) {
  return {{"id", permit.id},
          {"batch", permit.batch},
          {"lot", permit.lot},
          {"risk", permit.risk},
          {"volume_l", rounded(permit.volume.value(), 2)}};
}

Json station_view(const Station& station, Instant now) {
  Json checks = Json::array();
  for (const CheckResult& check : station.checks())
    checks.push_back(check_view(check, station, now.mono));
  Json readings = Json::object();
  for (std::size_t i = 0; i < station.readings().size(); ++i)
    readings[station.spec().probes[i].name] = reading_view(station, i, now.mono);
  const Json salinity = estimate_view(station);
  Json advice = Json::array();
  for (const Correction& correction : config::corrections_for(station))
    advice.push_back(correction_view(correction));
  Json alarms = Json::array();
  for (const Alarm& alarm : station.alarms().standing())
    alarms.push_back(alarm_view(alarm, station));
  const auto& permit = station.gate().permit();
  const auto first_out = station.gate().first_out();
  const bool open = station.gate().state() == GateState::Open;
  return {
      {"station", station.spec().name},
      {"phase", word(station.batch().phase)},
      {"gate", word(station.gate().state())},
      {"headline", config::headline(station, now.mono)},
      {"first_out", first_out ? Json(check_row(*first_out).name) : Json()},
      {"checks", checks},
      {"readings", readings},
      {"salinity", salinity},
      {"acceptance", acceptance_view(station)},
      {"forecast", forecast_view(station.settling())},
      {"temperature_c",
       station.temperature() ? rounded(station.temperature()->value(), 2) : Json()},
      {"volume_l", station.volume() ? rounded(station.volume()->value(), 2) : Json()},
      {"batch", station.batch().in_progress() ? batch_view(station.batch()) : Json()},
      {"dose", station.dose() ? dose_view(*station.dose()) : Json()},
      {"permit", permit && open ? permit_view(*permit) : Json()},
      {"change", station.change() ? change_view(*station.change(), now.mono) : Json()},
      {"hold_off", hold_off_view(station)},
      {"unfinished", station.unfinished() ? unfinished_view(*station.unfinished()) : Json()},
      {"tank_level_l", station.tank_level() ? rounded(station.tank_level()->value(), 2) : Json()},
      {"advice", advice},
      {"alarms", alarms},
      {"at", iso_time(now.wall)}};
}

std::string view_signature(const Station& station) {
  std::string signature =
      fmt::format("{}|{}|{}|{}|{}|", word(station.batch().phase), word(station.gate().state()),
                  station.batch().id, station.gate().permit() ? station.gate().permit()->id : "",
                  station.change() ? station.change()->asked.value() : 0.0);
  signature += fmt::format("{}|{}|", station.batch().lot, station.batch().hand_tests.size());
  for (const CheckResult& check : station.checks())
    signature += static_cast<char>((check.waived ? 'w' : '0') + static_cast<int>(check.verdict));
  for (std::size_t i = 0; i < station.readings().size(); ++i)
    if (is_contact(station.spec().probes[i].measures))
      signature += fmt::format("{}", station.readings()[i].good_value().value_or(-1.0));
  const auto& change = station.change();
  if (change && change->exchange)
    signature += word(change->exchange->phase());
  signature += station.hold_off().asked() ? "h" : "-";
  for (const Alarm& alarm : station.alarms().standing())
    signature += fmt::format("|{}={}", word(alarm.id), word(alarm.state));
  return signature;
}

}  // namespace brinegate::daemon
