// SPDX-License-Identifier: Apache-2.0
#include "daemon/engine/request_command.h"

#include <algorithm>
#include <cstdlib>
#include <vector>

#include <fmt/format.h>

#include "config/measured.h"
#include "config/nearest.h"
#include "config/words.h"
#include "daemon/engine/state_json.h"
#include "rules/seawater.h"
#include "rules/verification.h"

namespace brinegate::daemon {
namespace {

std::string batch_id(const std::string& station, const BatchIds& ids) {
  std::string time = iso_time(ids.now);
  time.erase(std::remove_if(time.begin(), time.end(), [](char c) { return c == '-' || c == ':'; }),
             time.end());
  std::string id = fmt::format("{}-{}", station, time);
  while (id == ids.current)
    id += "b";
  return id;
}

// As on record; of its yield what was said counts, else what was learned, else what is stated with
// the lot.
SaltOfLot salt_taken(const LotTaken& taken, std::optional<double> dry_fraction, WallTime now,
                     const LotKnowledge& known) {
  SaltOfLot salt = salt_of(taken.lot, {}, taken.salt.value_or(Grams(0.0)));
  const Lot* lot = known.library.lot(taken.lot);
  if (lot != nullptr)
    salt.lot = salt_of(*lot, now);
  const auto learned = known.yields.find(taken.lot);
  if (dry_fraction)
    salt.product.dry_fraction = *dry_fraction;
  else if (learned != known.yields.end())
    salt.product = product_of(learned->second);
  else if (lot != nullptr && lot->dry_fraction)
    salt.product.dry_fraction = *lot->dry_fraction;
  return salt;
}

Result<Command> begin_command(const BeginBatch& asked, const config::Site& site,
                              const StationUnit& unit, const BatchIds& ids,
                              const LotKnowledge& lots) {
  const std::string& name = asked.profile.empty() ? unit.configured().profile : asked.profile;
  const auto profile = std::find_if(site.profiles.begin(), site.profiles.end(),
                                    [&name](const Profile& each) { return each.name == name; });
  if (profile == site.profiles.end()) {
    std::vector<std::string> known;
    for (const Profile& each : site.profiles)
      known.push_back(each.name);
    return Error{
        fmt::format("there is no profile '{}': {}", name, config::suggestion(name, known))};
  }
  BeginCommand command;
  command.batch = batch_id(unit.station().spec().name, ids);
  command.profile = *profile;
  for (const LotTaken& taken : asked.lots)
    command.salts.push_back(salt_taken(taken, asked.dry_fraction, ids.now, lots));
  if (asked.salt_factor && asked.salt_factor_uncertainty)
    command.salt_factor = {*asked.salt_factor, *asked.salt_factor_uncertainty};
  return Command(command);
}

Result<double> gravity_of(const std::string& text) {
  char* end = nullptr;
  const double value = std::strtod(text.c_str(), &end);
  const std::string_view rest(end);
  if (end == text.c_str() || !(rest.empty() || rest == " sg" || rest == "sg"))
    return Error{fmt::format("\"{}\" is not a specific gravity: write \"1.0264\"", text)};
  return value;
}

// A standard has its value at its own temperature; the probe must show what it comes to at the
// temperature of the water it stands in, by the equations of sea water.
Result<double> standard_now(const CalibrateProbe& asked, const ProbeSpec& probe,
                            const Station& station) {
  if (probe.measures == Measures::SpecificGravity)
    return gravity_of(asked.standard);
  auto value = config::parse_measured(probe.measures, asked.standard);
  const bool is_conductivity = probe.measures == Measures::Conductivity ||
                               probe.measures == Measures::CompensatedConductivity;
  if (!value || !is_conductivity)
    return value;
  const auto temperature = station.readings()[*probe.temperature_from].good_value();
  if (!temperature)
    return Error{
        "the probe's temperature has no good reading, so the standard's value now is not "
        "known"};
  const MilliSiemensPerCm standard(*value);
  if (salinity_quality(standard, asked.at) == Quality::Bad)
    return Error{fmt::format("\"{}\" is no standard for sea water", asked.standard)};
  const Celsius now(*temperature);
  const MilliSiemensPerCm in_situ = conductivity(practical_salinity(standard, asked.at), now);
  return probe.measures == Measures::Conductivity
             ? in_situ.value()
             : compensated(in_situ, now, probe.compensation).value();
}

Result<std::size_t> probe_named(const std::string& name, const Station& station) {
  const auto& probes = station.spec().probes;
  std::vector<std::string> known;
  for (std::size_t i = 0; i < probes.size(); ++i) {
    if (probes[i].name == name)
      return i;
    known.push_back(probes[i].name);
  }
  return Error{fmt::format("there is no probe '{}': {}", name, config::suggestion(name, known))};
}

Result<Command> calibrate_command(const CalibrateProbe& asked, const Station& station) {
  const auto index = probe_named(asked.probe, station);
  if (!index)
    return index.error();
  const ProbeSpec& probe = station.spec().probes[*index];
  if (is_contact(probe.measures))
    return Error{fmt::format("{} is a contact: there is nothing to calibrate", asked.probe)};
  const auto standard = standard_now(asked, probe, station);
  if (!standard)
    return standard.error();
  return Command(CalibrateCommand{*index, *standard});
}

Result<double> shown_value(const VerifyProbe& asked, Measures measures) {
  if (measures == Measures::SpecificGravity)
    return gravity_of(asked.shows);
  if (!is_contact(measures))
    return config::parse_measured(measures, asked.shows);
  const config::ContactWords words = config::contact_words(measures);
  if (asked.shows != words.one && asked.shows != words.zero)
    return Error{fmt::format("\"{}\" is nothing this contact says: write \"{}\" or \"{}\"",
                             asked.shows, words.one, words.zero)};
  return asked.shows == words.one ? 1.0 : 0.0;
}

Result<Command> verify_command(const VerifyProbe& asked, const Station& station) {
  const auto index = probe_named(asked.probe, station);
  if (!index)
    return index.error();
  const ProbeSpec& probe = station.spec().probes[*index];
  if (!needs_verification(probe))
    return Error{
        fmt::format("{} needs no verification: only a real probe that is read over a "
                    "register map does, and of those not the pump's read-back",
                    asked.probe)};
  const auto shown = shown_value(asked, probe.measures);
  if (!shown)
    return shown.error();
  return Command(VerifyCommand{*index, *shown});
}

// In the water as it is; what it is written in may be by volume.
Result<Command> hand_test_command(const EnterHandTest& asked, const Station& station) {
  const Batch& batch = station.batch();
  const PracticalSalinity salinity =
      batch.proof ? batch.proof->salinity : station.salinity().value.value_or(batch.profile.target);
  const auto value = config::parse_content(
      asked.value, asked.analyte, {salinity, station.temperature().value_or(Celsius(25.0)), false});
  if (!value)
    return Error{"'value': " + value.error().message};
  return Command(HandTestCommand{asked.analyte.analyte, value->content, asked.value});
}

Result<Command> note_command(const NoteAddition& note, Origin origin, WallTime now,
                             const LotKnowledge& lots) {
  // What would make a wrong dose or lot look right is not for the network (S13).
  if (origin != Origin::Local && (note.salt_total || note.removed || !note.lot.empty()))
    return Error{
        "what was noted, and of which lot it is, can only be corrected on the machine itself"};
  NoteCommand command{note.salt.value_or(Grams(0.0)),
                      note.water.value_or(Litres(0.0)),
                      note.removed.value_or(Litres(0.0)),
                      note.salt_total,
                      note.text,
                      std::nullopt};
  if (!note.lot.empty())
    command.of = salt_taken({note.lot, note.salt}, std::nullopt, now, lots);
  return Command(command);
}

}  // namespace

// What names a profile or silences an alarm is not for everybody on the network, and what moves a
// probe or what its cells imply is for nobody there (S13). The lot's dry fraction is looked at
// where the analysis is read (library_request.h).
bool may_ask(const Request& request, Origin origin) {
  if (origin != Origin::Token)
    return origin == Origin::Local;
  const auto* begin = std::get_if<BeginBatch>(&request.act);
  const bool as_known = begin && !begin->dry_fraction && !begin->salt_factor;
  return as_known || std::holds_alternative<AbandonBatch>(request.act) ||
         std::holds_alternative<EnterHandTest>(request.act) ||
         std::holds_alternative<AcknowledgeAlarm>(request.act) ||
         std::holds_alternative<AddLot>(request.act) ||
         std::holds_alternative<AddWaterTest>(request.act);
}

std::string unknown_station(const std::string& name, const config::Site& site) {
  std::vector<std::string> known;
  for (const config::Station& station : site.stations)
    known.push_back(station.spec.name);
  if (name.empty())
    return fmt::format("Refused: 'station' is missing; write one of {}.", fmt::join(known, ", "));
  return fmt::format("Refused: there is no station '{}': {}.", name,
                     config::suggestion(name, known));
}

Result<Command> command_of(const Request& request, Origin origin, const config::Site& site,
                           const StationUnit& unit, const BatchIds& ids, const LotKnowledge& lots) {
  if (const auto* change = std::get_if<AskChange>(&request.act))
    return Command(ChangeCommand{change->volume});
  if (std::holds_alternative<StopChange>(request.act))
    return Command(StopCommand{});
  if (const auto* note = std::get_if<NoteAddition>(&request.act))
    return note_command(*note, origin, ids.now, lots);
  if (!may_ask(request, origin))
    return Error{"this can only be asked on the machine itself, with the command line"};
  if (const auto* begin = std::get_if<BeginBatch>(&request.act))
    return begin_command(*begin, site, unit, ids, lots);
  if (const auto* waive = std::get_if<WaiveCheck>(&request.act))
    return Command(WaiveCommand{waive->check, waive->person, waive->reason, waive->length});
  if (const auto* unwaive = std::get_if<UnwaiveCheck>(&request.act))
    return Command(UnwaiveCommand{unwaive->check});
  if (std::holds_alternative<AbandonBatch>(request.act))
    return Command(AbandonCommand{});
  if (const auto* calibrate = std::get_if<CalibrateProbe>(&request.act))
    return calibrate_command(*calibrate, unit.station());
  if (const auto* verify = std::get_if<VerifyProbe>(&request.act))
    return verify_command(*verify, unit.station());
  if (const auto* test = std::get_if<EnterHandTest>(&request.act))
    return hand_test_command(*test, unit.station());
  const auto* acknowledge = std::get_if<AcknowledgeAlarm>(&request.act);
  if (acknowledge == nullptr)
    return Error{"this is not asked of a station"};
  const auto alarm = config::alarm_of(acknowledge->alarm);
  if (!alarm)
    return Error{fmt::format("there is no alarm '{}'", acknowledge->alarm)};
  return Command(AcknowledgeCommand{*alarm});
}

}  // namespace brinegate::daemon
