// SPDX-License-Identifier: Apache-2.0
#include "daemon/engine/view.h"

#include <array>
#include <cmath>
#include <string_view>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "config/advice.h"
#include "config/words.h"
#include "rules/check_catalogue.h"
#include "rules/seawater.h"
#include "rules/verification.h"

namespace brinegate::daemon {
namespace {

using config::word;

constexpr double psu_to_ppt = 35.16504 / 35.0;

// Numbers for people and automations need no more digits than the instruments have.
Json number(double value, int decimals) {
  const double scale = std::pow(10.0, decimals);
  return std::round(value * scale) / scale;
}

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
      return "L";
    case Measures::Flow:
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
               {"quality", word(reading.quality())},
               {"reason", word(reading.reason())},
               {"age_s", nullptr},
               {"simulated", reading.simulated()},
               {"verified", verified_view(station, index)}};
  if (const auto value = reading.shown_value()) {
    view["value"] = number(*value, 4);
    view["age_s"] = number(seconds(now - reading.taken()), 1);
  }
  return view;
}

Json batch_view(const Batch& batch) {
  Json view = {{"id", batch.id},
               {"lot", batch.lot},
               {"profile", batch.profile.name},
               {"begun", iso_time(batch.begun)},
               {"target_g_kg", number(reference_salinity(batch.profile.target).value(), 3)},
               {"tolerance_g_kg", number(batch.profile.tolerance.value() * psu_to_ppt, 3)},
               {"salt_g", batch.salt_noted ? number(batch.salt.value(), 1) : Json()},
               {"dry_fraction", number(batch.product.dry_fraction, 4)},
               {"dry_fraction_uncertainty", number(batch.product.dry_fraction_uncertainty, 4)},
               {"dry_fraction_learned", batch.product.learned},
               {"circulated_s", number(seconds(batch.circulated), 0)},
               {"age_s", number(seconds(batch.age), 0)},
               {"drawn_l", number(batch.drawn.value(), 2)},
               {"proof", nullptr}};
  if (batch.proof)
    view["proof"] = {
        {"at", iso_time(batch.proof->at)},
        {"salinity_g_kg", number(reference_salinity(batch.proof->salinity).value(), 3)},
        {"temperature_c", number(batch.proof->temperature.value(), 2)},
        {"risk", batch.proof->risk},
        {"says", "salinity proven, composition by assay"}};
  return view;
}

Json correction_view(const Correction& c) {
  const double after = reference_salinity(c.after.salinity).value();
  const double half = reference_salinity(half_interval_95(Uncertain<PracticalSalinity>{
                                             c.after.salinity, c.standard_uncertainty}))
                          .value();
  return {{"action", word(c.action)},
          {"salt_g", number(c.salt.value(), 1)},
          {"water_l", number(c.water.value(), 3)},
          {"remove_l", number(c.remove.value(), 3)},
          {"salinity_after", number(after, 3)},
          {"salinity_after_low", number(after - half, 3)},
          {"salinity_after_high", number(after + half, 3)},
          {"standard_uncertainty_after_g_kg",
           number(reference_salinity(c.standard_uncertainty).value(), 4)},
          {"volume_after_l", number(c.after.volume.value(), 2)},
          {"fits", c.fits},
          {"sentence", config::sentence(c)}};
}

Json dose_view(const DoseWitness& dose) {
  const auto g_kg = [](PracticalSalinity s) { return number(reference_salinity(s).value(), 4); };
  return {{"predicted_g_kg", g_kg(dose.predicted.value)},
          {"standard_uncertainty_g_kg", g_kg(dose.predicted.standard_uncertainty)},
          {"from_weight_g_kg", g_kg(dose.from_weight)},
          {"from_volume_g_kg", g_kg(dose.from_volume)},
          {"from_yield_g_kg", g_kg(dose.from_yield)},
          {"from_rest_g_kg", g_kg(dose.from_rest)},
          {"volume_l", number(dose.volume.litres.value.value(), 2)},
          {"volume_by", dose.volume.by_level ? "level" : "note"}};
}

Json explanation_view(const DoseExplanation& e, const Station& station) {
  constexpr std::array<const char*, 4> amounts{"amount_g", "amount_l", "amount_dry_fraction",
                                               "amount_psu"};
  const bool by_level = station.dose() && station.dose()->volume.by_level;
  return {{"suspect", word(e.suspect)},
          {amounts[static_cast<std::size_t>(e.suspect)], number(e.amount, 4)},
          {"relative", number(e.relative, 4)},
          {"times_uncertainty", number(e.times_uncertainty, 2)},
          {"sentence", config::explanation_text(e, by_level)}};
}

Json change_view(const WaterChange& change, MonoTime now) {
  return {{"permit", change.permit},
          {"asked_l", number(change.asked.value(), 2)},
          {"drawn_l", change.run ? number(change.run->drawn().value(), 2) : Json(0.0)},
          {"running_s", change.run ? number(seconds(change.run->elapsed(now)), 0) : Json()}};
}

}  // namespace

Json salinity_view(PracticalSalinity salinity) {
  return {{"practical_salinity", number(salinity.value(), 4)},
          {"reference_salinity_g_kg", number(reference_salinity(salinity).value(), 4)}};
}

Json check_view(const CheckResult& check, const Station& station, MonoTime now) {
  Json view = {{"id", check_row(check.id).name},
               {"title", check_row(check.id).title},
               {"verdict", word(check.verdict)},
               {"measured", config::measured_text(check)},
               {"needed", config::needed_text(check)},
               {"since_s", number(seconds(now - check.since), 0)},
               {"sentence", config::sentence(check, station)}};
  if (check.risk)
    view["risk"] = *check.risk;
  for (const DoseExplanation& explanation : check.explanations)
    view["explanations"].push_back(explanation_view(explanation, station));
  return view;
}

Json alarm_view(const Alarm& alarm) {
  const config::AlarmWords words = config::words_of(alarm.id);
  return {{"id", word(alarm.id)},
          {"state", word(alarm.state)},
          {"cause", words.cause},
          {"consequence", words.consequence},
          {"action", words.action}};
}

Json permit_view(const Permit& permit) {
  return {{"id", permit.id},
          {"batch", permit.batch},
          {"lot", permit.lot},
          {"risk", permit.risk},
          {"volume_l", number(permit.volume.value(), 2)}};
}

Json station_view(const Station& station, Instant now) {
  Json checks = Json::array();
  for (const CheckResult& check : station.checks())
    checks.push_back(check_view(check, station, now.mono));
  Json readings = Json::object();
  for (std::size_t i = 0; i < station.readings().size(); ++i)
    readings[station.spec().probes[i].name] = reading_view(station, i, now.mono);
  Json salinity;
  if (const auto value = station.salinity().value) {
    salinity = salinity_view(*value);
    salinity["standard_uncertainty_g_kg"] =
        number(station.salinity().standard_uncertainty * psu_to_ppt, 4);
  }
  Json advice = Json::array();
  for (const Correction& correction : config::corrections_for(station))
    advice.push_back(correction_view(correction));
  Json alarms = Json::array();
  for (const Alarm& alarm : station.alarms().standing())
    alarms.push_back(alarm_view(alarm));
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
      {"temperature_c", station.temperature() ? number(station.temperature()->value(), 2) : Json()},
      {"volume_l", station.volume() ? number(station.volume()->value(), 2) : Json()},
      {"batch", station.batch().in_progress() ? batch_view(station.batch()) : Json()},
      {"dose", station.dose() ? dose_view(*station.dose()) : Json()},
      {"permit", permit && open ? permit_view(*permit) : Json()},
      {"change", station.change() ? change_view(*station.change(), now.mono) : Json()},
      {"advice", advice},
      {"alarms", alarms},
      {"at", iso_time(now.wall)}};
}

std::string view_signature(const Station& station) {
  std::string signature =
      fmt::format("{}|{}|{}|{}|{}|", word(station.batch().phase), word(station.gate().state()),
                  station.batch().id, station.gate().permit() ? station.gate().permit()->id : "",
                  station.change() ? station.change()->asked.value() : 0.0);
  for (const CheckResult& check : station.checks())
    signature += static_cast<char>('0' + static_cast<int>(check.verdict));
  for (const Alarm& alarm : station.alarms().standing())
    signature += fmt::format("|{}={}", word(alarm.id), word(alarm.state));
  return signature;
}

}  // namespace brinegate::daemon
