// SPDX-License-Identifier: Apache-2.0
#include "daemon/engine/station_unit.h"

#include <algorithm>
#include <string_view>
#include <utility>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "config/advice.h"
#include "config/likely_cause.h"
#include "config/quantity.h"
#include "config/words.h"
#include "daemon/engine/record_json.h"
#include "daemon/engine/view.h"
#include "rules/check_catalogue.h"

namespace brinegate::daemon {
namespace {

using namespace std::chrono_literals;

constexpr Duration restate_every = 5s;  // an off that a restarted device has forgotten
constexpr Duration numbers_every = 1s;  // plain values, if they change
// So much circulation time is lost at most, and so much of what is drawn. Often enough: each costs
// a write of the card.
constexpr Duration memory_every = 5min;
constexpr Duration memory_of_drawing_every = 1min;

std::string_view word(drivers::OutputRole role) {
  switch (role) {
    case drivers::OutputRole::Pump:
      return "pump";
    case drivers::OutputRole::SecondCutoff:
      return "second cut-off";
    case drivers::OutputRole::HoldOff:
      return "hold-off";
    case drivers::OutputRole::Drain:
      return "drain";
  }
  return "";
}

bool wanted_on(const StationOutcome& outcome, drivers::OutputRole role) {
  switch (role) {
    case drivers::OutputRole::Pump:
      return outcome.pump_on;
    case drivers::OutputRole::SecondCutoff:
      return outcome.second_cutoff_on;
    case drivers::OutputRole::HoldOff:
      return outcome.hold_off_on;
    case drivers::OutputRole::Drain:
      return outcome.drain_on;
  }
  return false;
}

}  // namespace

StationUnit::StationUnit(const config::Station& station, std::size_t index)
    : configured_(&station),
      index_(index),
      station_(station.spec),
      probe_records_(station.spec),
      shelf_(station.spec.name) {}

// A report of what the output was told before says nothing of what it is told now.
void StationUnit::take(const drivers::OutputReport& report, MonoTime now,
                       std::vector<Effect>& effects) {
  Told& told = told_[report.output.role];
  if (report.taken_over) {
    inputs_.output_taken_over = true;
    effects.push_back(
        Log{LogLevel::Warning, fmt::format("{}: the {} output was found switched by somebody else",
                                           station_.spec().name, word(report.output.role))});
  }
  if (!told.once || report.on != told.on)
    return;
  const bool confirmed = report.fault == SampleFault::None;
  told.heard = now;
  if (!std::exchange(told.reported, true) || told.confirmed != confirmed) {
    Log log{
        told.failing_since || !confirmed ? LogLevel::Warning : LogLevel::Info,
        fmt::format("{}: the {} output {}", station_.spec().name, word(report.output.role),
                    confirmed ? "answers"
                              : fmt::format("does not answer ({})", config::word(report.fault)))};
    if (confirmed && told.failing_since)
      log.detail = fmt::format(" again after {}, {} times without an answer",
                               config::show(now - *told.failing_since), told.failures);
    effects.push_back(std::move(log));
  }
  told.confirmed = confirmed;
  if (confirmed) {
    told.failing_since.reset();
    told.failures = 0;
  } else {
    told.failing_since = told.failing_since.value_or(now);
    ++told.failures;
  }
}

// The devices confirmed what they were told, and not too long ago. An "on" that was not renewed
// within its lease has lapsed: after a stand-still of ours nothing may start a pump again by
// itself.
bool StationUnit::outputs_answer(MonoTime now) const {
  const auto outputs = drivers::outputs_of(*configured_);
  return !outputs.empty() &&
         std::all_of(outputs.begin(), outputs.end(), [&](const drivers::StationOutput& output) {
           if (output.role != drivers::OutputRole::Pump &&
               output.role != drivers::OutputRole::Drain)
             return true;
           const auto found = told_.find(output.role);
           if (found == told_.end())
             return false;
           const Told& told = found->second;
           if (told.on && now - told.at >= output.lease)
             return false;
           const Duration patience = told.on ? output.lease : 4 * restate_every;
           return told.confirmed && now - told.heard <= patience;
         });
}

void StationUnit::ask(Command command, PendingAnswer answer) {
  inputs_.commands.push_back(std::move(command));
  pending_.push_back(std::move(answer));
}

void StationUnit::restore(const StationMemory& memory, const std::optional<Profile>& configured,
                          Instant now, const Library& library) {
  std::vector<BatchSalt> lots;
  for (const auto& [name, version] : memory.batch.relied_on.lots)
    if (const Lot* lot = library.lot(name))
      lots.push_back(salt_of(*lot, now.wall));
  station_.restore(memory, configured, now, lots);
}

void StationUnit::restore_calibration(const std::string& probe, const Calibration& calibration) {
  if (const auto index = probe_named(probe))
    station_.restore_calibration(*index, calibration);
}

void StationUnit::restore_verification(const std::string& probe, const Verification& verification) {
  if (const auto index = probe_named(probe))
    station_.restore_verification(*index, verification);
}

std::optional<std::size_t> StationUnit::probe_named(const std::string& name) const {
  const auto& probes = station_.spec().probes;
  for (std::size_t i = 0; i < probes.size(); ++i)
    if (probes[i].name == name)
      return i;
  return std::nullopt;
}

void StationUnit::store_probe(const StationEvent& event, Append& append) const {
  const auto store = [&](const char* table, std::size_t probe, const Json& body) {
    append.states.push_back(
        {table, fmt::format("{}/{}", station_.spec().name, station_.spec().probes[probe].name),
         station_.spec().name, dump(body)});
  };
  if (const auto* calibrated = std::get_if<ProbeCalibrated>(&event))
    store("calibration", calibrated->probe, to_json(calibrated->calibration));
  std::optional<std::size_t> compared;
  if (const auto* one = std::get_if<ProbeCompared>(&event))
    compared = one->comparison.probe;
  if (const auto* edited = std::get_if<MapEntryEdited>(&event); edited && !edited->calibration)
    compared = edited->probe;
  if (compared)
    store("verification", *compared, to_json(station_.verification(*compared)));
}

void StationUnit::restore_probe(const std::string& probe, ProbeRecord record) {
  probe_records_.restore(probe, std::move(record), station_);
}

Json StationUnit::view(Instant now) const {
  Json view = station_view(station_, now);
  view["shelved"] = shelf_.view(now);
  view["probe_health"] = probe_records_.view(station_, now.wall);
  return view;
}

std::optional<std::string> StationUnit::step(bool record_kept, bool ending, Instant now,
                                             std::vector<Effect>& effects, Append& append,
                                             LotYields& yields, Library& library) {
  inputs_.record_kept = record_kept;
  inputs_.ending = ending;
  inputs_.output_answers = outputs_answer(now.mono);
  const StationOutcome outcome = station_.step(inputs_, now);
  inputs_.samples.clear();
  inputs_.commands.clear();
  inputs_.lots_recorded.clear();
  inputs_.permit_on_record.reset();
  inputs_.output_taken_over = false;

  drive(outcome, now, effects);
  shelf_.lapse(now, append);
  probe_log_.follow(station_, outcome, now.mono, effects);
  for (const auto& [probe, judged] : outcome.judged) {
    const auto [kept, is_new] = history_.try_emplace(probe, judged);
    if (!is_new && kept->second.quality != Quality::Bad)
      kept->second = judged;  // the newest, or the first bad one of the interval
  }

  std::optional<std::string> permit_to_record;
  for (const StationEvent& event : outcome.events) {
    RecordText text = record_of(event, station_, now.mono);
    if (const auto* asked = std::get_if<PermitAsked>(&event))
      permit_to_record = asked->permit.id;
    store_probe(event, append);
    if (const auto* ended = std::get_if<BatchEnded>(&event))
      append.states.push_back({"batch", ended->batch.id, station_.spec().name, dump(text.body)});
    if (const auto* yield = std::get_if<YieldObserved>(&event))
      learn(yield->observation, yields, text.body, append);
    const std::string probe = text.body.value("probe", "");
    effects.push_back(Log{LogLevel::Info, fmt::format("{}: {}{}{}; {}", station_.spec().name,
                                                      text.kind, probe.empty() ? "" : " ", probe,
                                                      config::headline(station_, now.mono))});
    append.entries.push_back({now.wall, station_.spec().name, text.kind, dump(text.body)});
    if (const auto* ended = std::get_if<ChangeEnded>(&event))
      keep_tank_change(*ended, now.wall, library, effects, append);
  }
  probe_records_.follow(station_, outcome.events, now.wall, append);
  answer(outcome, now);

  if (!outcome.events.empty() || memory_due(now.mono)) {
    memory_saved_ = now.mono;
    const Json memory = to_json(station_.memory(now));
    const std::string& name = station_.spec().name;
    append.states.push_back({"station", name, name, dump(memory)});
    if (station_.batch().in_progress())
      append.states.push_back({"batch", station_.batch().id, name, dump(memory.at("batch"))});
  }
  return permit_to_record;
}

bool StationUnit::memory_due(MonoTime now) const {
  const BatchPhase phase = station_.batch().phase;
  const Duration every = phase == BatchPhase::Drawing ? memory_of_drawing_every : memory_every;
  return phase != BatchPhase::Empty && (!memory_saved_ || now - *memory_saved_ >= every);
}

void StationUnit::keep_tank_change(const ChangeEnded& ended, WallTime now, Library& library,
                                   std::vector<Effect>& effects, Append& append) const {
  const std::string& tank = configured_->tank;
  if (tank.empty() || ended.drawn <= Litres(0.0))
    return;
  const Batch& batch = station_.batch();
  const PracticalSalinity salinity = batch.proof
                                         ? batch.proof->salinity
                                         : station_.salinity().value.value_or(batch.profile.target);
  const auto kept = library.add_change(
      tank, {now, ended.drawn, salinity, batch.lots.composition, batch.id}, now, append);
  if (!kept)
    effects.push_back(
        Log{LogLevel::Warning, fmt::format("{}: the change is not in the history of a tank: {}",
                                           station_.spec().name, kept.error().message)});
}

void StationUnit::learn(const YieldObservation& observation, LotYields& yields, Json& body,
                        Append& append) const {
  const Batch& batch = station_.batch();
  const auto known = yields.find(batch.lot);
  const auto before = known == yields.end() ? std::nullopt : std::optional(known->second);
  const LotYield& lot = yields[batch.lot] = learned(before, batch.product, observation);
  const SaltProduct product = product_of(lot);
  body["dry_fraction"] = product.dry_fraction;
  body["dry_fraction_uncertainty"] = product.dry_fraction_uncertainty;
  body["spread_between_batches"] = spread_between_batches(lot);
  body["batches"] = lot.batches;
  body["sentence"] = config::sentence(batch.lot, lot);
  append.states.push_back({yield_table, batch.lot, station_.spec().name, dump(to_json(lot))});
}

void StationUnit::drive(const StationOutcome& outcome, Instant now, std::vector<Effect>& effects) {
  for (const drivers::StationOutput& output : drivers::outputs_of(*configured_))
    drive_one(output, wanted_on(outcome, output.role), now, effects);
}

// S2: an "on" is a lease, renewed at a third of its length.
void StationUnit::drive_one(const drivers::StationOutput& output, bool on, Instant now,
                            std::vector<Effect>& effects) {
  Told& told = told_[output.role];
  const Duration again = on ? output.lease / 3 : restate_every;
  if (told.once && told.on == on && now.mono - told.at < again)
    return;
  if (told.once && told.on != on)
    told.heard = now.mono;  // time to obey; the read-back watches meanwhile
  told.once = true;
  told.on = on;
  told.at = now.mono;
  effects.push_back(DriveOutput{{index_, output.role},
                                on ? std::optional(now.mono + output.lease) : std::nullopt});
}

void StationUnit::answer(const StationOutcome& outcome, Instant now) {
  for (std::size_t i = 0; i < outcome.answers.size(); ++i) {
    const CommandAnswer& given = outcome.answers[i];
    const PendingAnswer& pending = pending_[i];
    Json reasons = Json::array();
    for (const CheckResult& check : given.unmet)
      reasons.push_back(config::sentence(check, station_));
    if (given.code == AnswerCode::DisplayDisagrees)
      if (const std::string cause = likely_cause(*given.compared); !cause.empty())
        reasons.push_back(cause);
    Json reply = {{"id", pending.id},
                  {"ok", given.ok()},
                  {"station", station_.spec().name},
                  {"message", config::sentence(given)},
                  {"reasons", reasons},
                  {"headline", config::headline(station_, now.mono)}};
    if (station_.batch().in_progress())
      reply["batch"] = station_.batch().id;
    answers_.push_back({{pending.to, station_.spec().name, dump(reply)},
                        given.code == AnswerCode::Ending ? "" : pending.id,
                        given.ok() && pending.once_stored});
  }
  pending_.clear();
}

std::string StationUnit::likely_cause(const Comparison& compared) const {
  const ProbeSpec& probe = station_.spec().probes[compared.probe];
  std::optional<Celsius> water;
  if (probe.temperature_from)
    if (const auto value = station_.readings()[*probe.temperature_from].good_value())
      water = Celsius(*value);
  return config::likely_cause(probe, configured_->sources[compared.probe], compared, water);
}

void StationUnit::publish_number(const std::string& name, std::optional<double> value, bool again,
                                 std::vector<Effect>& effects) {
  const std::string text = value ? fmt::format("{:.2f}", *value) : "";
  std::string& published = published_[name];
  if (published == text && !again)
    return;
  published = text;
  effects.push_back(Publish{fmt::format("{}/{}", station_.spec().name, name), text, true});
}

// The gate first, because somebody may wait for it; then the state that says why.
void StationUnit::publish(Instant now, bool everything, bool restates,
                          std::vector<Effect>& effects) {
  const std::string& name = station_.spec().name;
  std::string signature = view_signature(station_) + shelf_.signature();
  const bool changed = signature != published_signature_;
  if (changed || everything) {
    const std::string gate(config::word(station_.gate().state()));
    if (std::exchange(published_["gate"], gate) != gate || everything)
      effects.push_back(Publish{name + "/gate", gate, true});
  }
  const bool due = !state_published_ || (restates && now.mono - *state_published_ >= state_every);
  const bool told = changed || everything || due;
  if (told) {
    published_signature_ = std::move(signature);
    state_published_ = now.mono;
    effects.push_back(Publish{name + "/state", dump(view(now)), true});
  }
  if (!told && numbers_published_ && now.mono - *numbers_published_ < numbers_every)
    return;
  numbers_published_ = now.mono;
  const auto salinity = station_.salinity().value;
  publish_number("salinity",
                 salinity ? std::optional(reference_salinity(*salinity).value()) : std::nullopt,
                 told, effects);
  const auto temperature = station_.temperature();
  publish_number("temperature", temperature ? std::optional(temperature->value()) : std::nullopt,
                 told, effects);
  const auto volume = station_.volume();
  publish_number("volume", volume ? std::optional(volume->value()) : std::nullopt, told, effects);
}

void StationUnit::sample_history(Instant now, AppendReadings& rows) {
  for (const auto& [probe, judged] : history_)
    rows.rows.push_back({station_.spec().name, station_.spec().probes[probe].name, now.wall,
                         judged.quality, judged.value});
  history_.clear();
  if (const auto salinity = station_.salinity().value)
    rows.rows.push_back(
        {station_.spec().name, "salinity", now.wall, Quality::Good, salinity->value()});
}

}  // namespace brinegate::daemon
