// SPDX-License-Identifier: Apache-2.0
// What a person should know about a valid configuration: what stays on when something dies, what
// nobody watches, and how much of the tolerance the instruments leave.
#include <algorithm>
#include <filesystem>
#include <string_view>
#include <system_error>

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "config/advice.h"
#include "config/load_sections.h"
#include "config/quantity.h"
#include "rules/acceptance.h"
#include "rules/verification.h"

namespace brinegate::config {
namespace {

using std::filesystem::perms;

void report_broker(const Mqtt& mqtt, Position at, Problems& problems) {
  std::error_code failure;
  if (!mqtt.ca_file.empty() && !std::filesystem::is_regular_file(mqtt.ca_file, failure))
    problems.hazard(at, fmt::format("the file of authorities {} is not there yet: without it no "
                                    "broker is taken for yours",
                                    mqtt.ca_file));
  const bool stays_here = mqtt.broker.find("//127.") != std::string::npos ||
                          mqtt.broker.find("//[::1]") != std::string::npos ||
                          mqtt.broker.find("//localhost:") != std::string::npos;
  if (!mqtt.username.empty() && mqtt.broker.starts_with("mqtt://") && !stays_here)
    problems.hazard(at,
                    "the password goes to the broker openly, and whoever sees it may drive the "
                    "pump's output: use a broker with TLS, broker = \"mqtts://...\"");
}

void report_lapse(const Output& output, Position at, std::string_view what, Problems& problems) {
  if (output.lapses_by_itself())
    return;
  const bool is_modbus = std::holds_alternative<ModbusOutput>(output.address);
  problems.hazard(
      at, fmt::format("the {} does not switch off by itself: if the daemon, its computer or the {} "
                      "dies while it is on, it stays on until a person comes; use {}, and an "
                      "independent cut-off",
                      what, is_modbus ? "line" : "broker",
                      is_modbus ? "a relay with a timed \"on\" (timed = { holding = ..., step = "
                                  "... })"
                                : "a switch with a timed \"on\" and write {seconds} into 'on'"));
}

// The slowest answer of the output's line must leave room to renew the permit.
void report_timeout(const Site& site, const Output& output, const PumpSpec& pump, Position at,
                    Problems& problems) {
  const auto* modbus = std::get_if<ModbusOutput>(&output.address);
  if (!modbus)
    return;
  for (const Link& link : site.links)
    if (link.name == modbus->link && link.timeout > pump.lease / 3)
      problems.hazard(at, fmt::format("link.{} may wait {} for an answer, more than a third of the "
                                      "lease of {}: one lost answer can let the permit lapse in "
                                      "the middle of a change; shorten 'timeout'",
                                      link.name, show(link.timeout), show(pump.lease)));
}

// S18, S19.
void report_tank(const Station& station, const StationPlaces& places, Problems& problems) {
  if (station.drain)
    report_lapse(*station.drain, places.drain, "drain", problems);
  if (station.drain && !station.hold_off)
    problems.hazard(
        places.drain,
        "a drain without 'hold_off': if the tank has an automatic top-off or dosing, it "
        "fills with fresh water what is drained");
  if (!station.hold_off)
    return;
  if (!station.hold_off->lapses_by_itself())
    problems.hazard(
        places.hold_off,
        "the hold-off does not lapse by itself: if the daemon or its computer dies "
        "while it is on, the tank gets no fresh water until a person comes; use a timed "
        "\"on\", or {seconds} in 'on'");
  if (station.spec.pump->permit == PermitMode::WhileProven)
    problems.hazard(places.hold_off,
                    "\"while proven\" a run begins before top-off and dosing can be held off: they "
                    "are held off from when the read-back shows it; permit = \"per change\" waits "
                    "for the confirmation");
}

void report_pump(const Site& site, const Station& station, const StationPlaces& places,
                 Problems& problems) {
  const Pump& pump = *station.pump;
  const PumpSpec& spec = *station.spec.pump;
  report_lapse(pump.output, places.output, "pump's output", problems);
  if (pump.second_cutoff)
    report_lapse(*pump.second_cutoff, places.second_cutoff, "second cut-off", problems);
  report_timeout(site, pump.output, spec, places.output, problems);
  report_tank(station, places, problems);
  constexpr Duration long_lease = std::chrono::seconds(10);
  if (spec.lease > long_lease)
    problems.hazard(places.pump,
                    fmt::format("a lease of {} lets the pump run on that long after the daemon "
                                "died: \"5 s\" is usual",
                                show(spec.lease)));
  if (!spec.has_readback)
    problems.hazard(places.pump,
                    "no 'readback': a welded contact, or a pump that somebody else switched, is "
                    "only seen by what it does to the level");
  const auto& probes = station.spec.probes;
  const bool any_simulated = std::any_of(probes.begin(), probes.end(),
                                         [](const ProbeSpec& probe) { return probe.simulated; });
  if (any_simulated && !spec.simulated)
    problems.hazard(places.output,
                    "a probe of this station is on a simulated link, but the output is a real one: "
                    "simulated readings never move a real pump, so the gate will stay shut");
}

void report_sources(const Station& station, const StationPlaces& places, Problems& problems) {
  for (std::size_t i = 0; i < station.sources.size(); ++i) {
    const auto* mqtt = std::get_if<MqttSource>(&station.sources[i]);
    if (mqtt && mqtt->time_pointer.empty())
      problems.hazard(places.probes[i],
                      fmt::format("'{}' has no 'time' pointer: an old value that somebody sends "
                                  "again counts as fresh unless the broker marks it as retained; "
                                  "write pointer and time, if the sender gives a time",
                                  station.spec.probes[i].name));
  }
}

// S22.
void report_verification(const Station& station, Position at, Problems& problems) {
  std::vector<std::string_view> names;
  for (const ProbeSpec& probe : station.spec.probes)
    if (needs_verification(probe))
      names.push_back(probe.name);
  if (!names.empty())
    problems.hazard(at,
                    fmt::format("station.{}: read over a register map and to be verified at two "
                                "points before a batch can be proven, and again after an edit "
                                "of their entry: {}; see brinegate help probe verify",
                                station.spec.name, fmt::join(names, ", ")));
}

void report_missing_probes(const Station& station, const StationPlaces& places,
                           Problems& problems) {
  const auto& probes = station.spec.probes;
  const auto count = [&](auto measures_it) {
    return std::count_if(probes.begin(), probes.end(),
                         [&](const ProbeSpec& probe) { return measures_it(probe.measures); });
  };
  const auto none_measures = [&](Measures wanted) {
    return count([&](Measures measures) { return measures == wanted; }) == 0;
  };
  const auto hazard = [&](std::string_view message) {
    problems.hazard(places.station, fmt::format("station.{}: {}", station.spec.name, message));
  };
  if (count(is_salinity_cell) == 1)
    hazard(
        "only one probe tells the salinity: a fouled or drifting one is caught by nothing but "
        "the weighed salt; a second one at another place is the best witness");
  if (none_measures(Measures::Temperature))
    hazard("no probe measures temperature: the profile's temperature can never be met");
  if (none_measures(Measures::Circulation))
    hazard(
        "no probe measures running: whether the water is circulated is not known, and the "
        "circulation time is mere elapsed time");
  if (none_measures(Measures::Leak))
    hazard("no probe measures leak: water on the floor stops nothing");
  if (none_measures(Measures::Level))
    hazard("no probe measures level: water added, or lost while shut, is not seen");
}

// The forecast of rules/dissolution.h is as good as what it reckons with and what it is fed.
void report_forecast(const Station& station, const Profile& profile, const StationPlaces& places,
                     Problems& problems) {
  constexpr Duration least_reckoned = std::chrono::minutes(30);
  constexpr int samples_in_slowest = 80;
  if (profile.slowest_part < least_reckoned && !(station.spec.pump && station.spec.pump->simulated))
    problems.hazard(places.station,
                    fmt::format("profile.{} reckons with a slowest part of only {}: real salt may "
                                "dissolve slower; \"160 min\" is usual",
                                profile.name, show(profile.slowest_part)));
  const Duration enough = profile.slowest_part / samples_in_slowest;
  for (std::size_t i = 0; i < station.sources.size(); ++i) {
    const Measures measures = station.spec.probes[i].measures;
    const auto* modbus = std::get_if<ModbusSource>(&station.sources[i]);
    const bool is_judged = is_salinity_cell(measures) || measures == Measures::Temperature;
    if (modbus && is_judged && modbus->every > enough)
      problems.error(places.probes[i],
                     fmt::format("'{}' is asked every {}, too seldom to follow salt whose slowest "
                                 "part may take {} (profile.{}); write every = \"{}\" or less",
                                 station.spec.probes[i].name, show(modbus->every),
                                 show(profile.slowest_part), profile.name, show(enough)));
  }
}

// What the instruments leave of the tolerance when every probe reads well, some time after its
// calibration.
void report_acceptance_zone(const Station& station, const Profile& profile, Position at,
                            Problems& problems) {
  constexpr double usual_days = 30.0;  // common practice, no source: calibrated every month or two
  const std::vector<ProbeCondition> conditions(station.spec.probes.size(), {usual_days});
  const auto left = acceptance(station.spec.probes, conditions, {}, profile);
  if (left)
    problems.hazard(at, fmt::format("station.{}, {} days after a calibration: {}",
                                    station.spec.name, usual_days, sentence(*left)));
}

}  // namespace

void report_secret_file(std::string_view what, const std::string& file, Position at,
                        Problems& problems) {
  if (file.empty())
    return;
  std::error_code failure;
  const auto status = std::filesystem::status(file, failure);
  if (status.type() != std::filesystem::file_type::regular) {
    problems.hazard(at, fmt::format("the {} {} is not there yet: create it, readable by the "
                                    "daemon's user alone",
                                    what, file));
    return;
  }
  if ((status.permissions() & (perms::group_all | perms::others_all)) != perms::none)
    problems.error(
        at, fmt::format("the {} {} is open to others than its owner: chmod 600 it", what, file));
}

void report_hazards(const Site& site, const std::vector<StationPlaces>& places, Position mqtt,
                    Problems& problems) {
  if (site.mqtt)
    report_broker(*site.mqtt, mqtt, problems);
  for (std::size_t i = 0; i < site.stations.size(); ++i) {
    const Station& station = site.stations[i];
    report_sources(station, places[i], problems);
    report_verification(station, places[i].station, problems);
    report_missing_probes(station, places[i], problems);
    if (station.pump)
      report_pump(site, station, places[i], problems);
    for (const Profile& profile : site.profiles) {
      if (profile.name != station.profile)
        continue;
      report_forecast(station, profile, places[i], problems);
      report_acceptance_zone(station, profile, places[i].station, problems);
    }
  }
}

}  // namespace brinegate::config
