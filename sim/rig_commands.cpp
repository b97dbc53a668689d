// SPDX-License-Identifier: Apache-2.0
// One table names every command, what it takes and what it does; help and errors are made from it.
#include "sim/rig_commands.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <iterator>
#include <optional>
#include <vector>

#include <fmt/format.h>
#include <fmt/ranges.h>
#include <nlohmann/json.hpp>

#include "config/quantity.h"
#include "rules/result.h"

namespace brinegate::sim {
namespace {

using Json = nlohmann::ordered_json;
using Words = std::vector<std::string_view>;

// Name and value of every fault of one kind.
template <class Fault>
struct NamedFault {
  std::string_view name;
  Fault fault;
};
constexpr std::array<NamedFault<ProbeFault>, 7> probe_faults{{{"flat", ProbeFault::Flat},
                                                              {"air", ProbeFault::InAir},
                                                              {"factor", ProbeFault::Lying},
                                                              {"silent", ProbeFault::Silent},
                                                              {"swapped", ProbeFault::WordSwapped},
                                                              {"noisy", ProbeFault::Noisy},
                                                              {"none", ProbeFault::None}}};
constexpr std::array<NamedFault<AnswerFault>, 5> answer_faults{
    {{"slow", AnswerFault::Slow},
     {"silent", AnswerFault::Silent},
     {"late", AnswerFault::Late},
     {"exception", AnswerFault::Exception},
     {"none", AnswerFault::None}}};
constexpr std::array<NamedFault<PumpFault>, 3> pump_faults{
    {{"siphon", PumpFault::Siphon}, {"blocked", PumpFault::Blocked}, {"none", PumpFault::None}}};

template <class Table>
std::string names_of(const Table& table) {
  std::vector<std::string_view> names;
  for (const auto& row : table)
    names.push_back(row.name);
  return fmt::format("{}", fmt::join(names, "|"));
}

template <class Fault, std::size_t N>
std::string_view name_of(const std::array<NamedFault<Fault>, N>& table, Fault fault) {
  return std::ranges::find(table, fault, &NamedFault<Fault>::fault)->name;
}

template <class Fault, std::size_t N>
Result<Fault> fault_named(const std::array<NamedFault<Fault>, N>& table, std::string_view name) {
  const auto row = std::ranges::find(table, name, &NamedFault<Fault>::name);
  if (row == table.end())
    return Error{fmt::format("there is no fault \"{}\" here: write {}", name, names_of(table))};
  return row->fault;
}

Words words_of(std::string_view text) {
  Words words;
  while (true) {
    const auto start = text.find_first_not_of(" \t\r");
    if (start == std::string_view::npos)
      return words;
    const auto end = std::min(text.find_first_of(" \t\r", start), text.size());
    words.push_back(text.substr(start, end - start));
    text.remove_prefix(end);
  }
}

std::string joined(const Words& words, std::size_t from = 0) {
  return fmt::format(
      "{}", fmt::join(words.begin() + static_cast<std::ptrdiff_t>(std::min(from, words.size())),
                      words.end(), " "));
}

Result<bool> parse_switch(const Words& words) {
  if (words.size() == 1 && (words[0] == "on" || words[0] == "off"))
    return words[0] == "on";
  return Error{fmt::format("\"{}\" is neither \"on\" nor \"off\"", joined(words))};
}

// What an amount may be in one command; more is a slip of the pen.
constexpr Litres most_litres{10000.0};
constexpr Grams most_grams{1e6};

template <class Amount>
Result<Amount> bounded(Result<Amount> amount, Amount low, Amount high) {
  if (!amount.ok() || (*amount >= low && *amount <= high))
    return amount;
  return Error{fmt::format("out of range: write {} to {}", config::show(low), config::show(high))};
}

using Answer = Result<Json>;

Answer water(Rig& rig, const Words& words) {
  const auto volume = bounded(config::parse_volume(joined(words)), Litres(0.0), most_litres);
  if (!volume.ok())
    return volume.error();
  rig.reservoir().add_water(*volume, rig.reservoir().temperature());
  return Json{{"water_l", volume->value()}};
}

Answer remove(Rig& rig, const Words& words) {
  const auto volume = bounded(config::parse_volume(joined(words)), Litres(0.0), most_litres);
  if (!volume.ok())
    return volume.error();
  return Json{{"removed_l", rig.reservoir().remove(*volume).value()}};
}

Answer salt(Rig& rig, const Words& words) {
  const auto mass = bounded(config::parse_mass(joined(words)), Grams(0.0), most_grams);
  if (!mass.ok())
    return mass.error();
  SaltAddition addition;
  addition.product = *mass;
  rig.reservoir().add_salt(addition);
  return Json{{"salt_g", mass->value()}};
}

Answer clump(Rig& rig, const Words& words) {
  if (words.size() < 3)
    return Error{"a clump is a mass and how long it holds together, e.g. \"clump 500 g 30 min\""};
  const auto mass =
      bounded(config::parse_mass(joined({words[0], words[1]})), Grams(0.0), most_grams);
  if (!mass.ok())
    return mass.error();
  const auto holds = bounded(config::parse_duration(joined(words, 2)), Duration::zero(),
                             Duration(std::chrono::hours(24 * 30)));
  if (!holds.ok())
    return holds.error();
  SaltAddition addition;
  addition.product = *mass;
  addition.lets_go_after = *holds;
  rig.reservoir().add_salt(addition);
  return Json{{"clump_g", mass->value()}, {"lets_go_after_s", seconds(*holds)}};
}

Answer heater(Rig& rig, const Words& words) {
  if (joined(words) == "off") {
    rig.reservoir().set_heater(std::nullopt);
    return Json{{"heater_c", nullptr}};
  }
  const auto point = bounded(config::parse_temperature(joined(words)), Celsius(0.0), Celsius(40.0));
  if (!point.ok())
    return point.error();
  rig.reservoir().set_heater(*point);
  return Json{{"heater_c", point->value()}};
}

Answer circulation(Rig& rig, const Words& words) {
  const auto on = parse_switch(words);
  if (!on.ok())
    return on.error();
  rig.relays().set_circulating(*on);
  return Json{{"circulation", *on}};
}

Answer second_cutoff(Rig& rig, const Words& words) {
  const auto on = parse_switch(words);
  if (!on.ok())
    return on.error();
  rig.relays().set_second_cutoff(*on);
  return Json{{"second_cutoff", *on}};
}

Answer leak(Rig& rig, const Words& words) {
  const auto on = parse_switch(words);
  if (!on.ok())
    return on.error();
  rig.relays().set_leak(*on);
  return Json{{"leak", *on}};
}

Answer tank_high(Rig& rig, const Words& words) {
  const auto on = parse_switch(words);
  if (!on.ok())
    return on.error();
  rig.relays().set_tank_high(*on);
  return Json{{"tank_high", *on}};
}

Result<double> parse_factor(std::string_view text) {
  double factor = 0.0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), factor);
  if (error == std::errc() && end == text.data() + text.size() && std::isfinite(factor) &&
      factor > 0.0 && factor <= 100.0)
    return factor;
  return Error{
      fmt::format("\"{}\" is not a factor: write a number such as 0.9, above 0, at most "
                  "100",
                  text)};
}

Answer probe_fault(Rig& rig, Probe which, const Words& words) {
  const auto fault = fault_named(probe_faults, words[1]);
  if (!fault.ok())
    return fault.error();
  if (*fault == ProbeFault::WordSwapped && which == Probe::Level)
    return Error{"the level is one word: there is nothing to swap"};
  const bool lies = *fault == ProbeFault::Lying;
  if (words.size() != (lies ? 3u : 2u))
    return Error{lies ? "by which factor? write e.g. \"fault cell_a factor 0.9\""
                      : fmt::format("\"{}\" takes nothing after it", words[1])};
  const auto factor = lies ? parse_factor(words[2]) : Result<double>(1.0);
  if (!factor.ok())
    return factor.error();
  rig.probe(which).set_fault(*fault, *factor);
  return Json{{"fault", words[0]}, {"is", words[1]}};
}

Answer pump_fault(Rig& rig, std::string_view name) {
  const auto fault = fault_named(pump_faults, name);
  if (!fault.ok())
    return fault.error();
  rig.set_pump_fault(*fault);
  return Json{{"fault", "pump"}, {"is", name}};
}

// The relay board welds or answers badly; "none" ends both.
Answer relay_fault(Rig& rig, std::string_view name) {
  if (name == "welded") {
    rig.relays().set_welded(true);
    return Json{{"fault", "relay"}, {"is", name}};
  }
  const auto fault = fault_named(answer_faults, name);
  if (!fault.ok())
    return Error{fault.error().message + "|welded"};
  if (*fault == AnswerFault::None)
    rig.relays().set_welded(false);
  rig.set_relay_fault(*fault);
  return Json{{"fault", "relay"}, {"is", name}};
}

Answer answer_fault(Rig& rig, std::string_view device, std::string_view name) {
  const auto fault = fault_named(answer_faults, name);
  if (!fault.ok())
    return fault.error();
  rig.set_transmitter_fault(*fault);
  if (device == "slave")
    rig.set_relay_fault(*fault);
  return Json{{"fault", device}, {"is", name}};
}

Answer fault(Rig& rig, const Words& words) {
  const auto known = fmt::format("{}|slave|transmitter|relay|pump", fmt::join(probe_names, "|"));
  if (words.size() < 2)
    return Error{fmt::format("write \"fault WHERE WHAT\"; where: {}", known)};
  if (const auto* name = std::ranges::find(probe_names, words[0]); name != probe_names.end())
    return probe_fault(rig, static_cast<Probe>(name - probe_names.begin()), words);
  if (words.size() > 2)
    return Error{fmt::format("\"{}\" takes nothing after it", words[1])};
  if (words[0] == "slave" || words[0] == "transmitter")
    return answer_fault(rig, words[0], words[1]);
  if (words[0] == "relay")
    return relay_fault(rig, words[1]);
  if (words[0] == "pump")
    return pump_fault(rig, words[1]);
  return Error{fmt::format("nothing here is called \"{}\": write {}", words[0], known)};
}

Json probe_state(const ProbeModel& probe) {
  Json state;
  const auto shown = probe.shown();
  state["shown"] = shown ? Json(*shown) : Json(nullptr);
  state["fault"] = name_of(probe_faults, probe.fault());
  if (probe.fault() == ProbeFault::Lying)
    state["factor"] = probe.lying_factor();
  return state;
}

Json state_of(const Rig& rig) {
  const Reservoir& water = rig.reservoir();
  const RelayBoard& relays = rig.relays();
  const auto heater_point = water.heater();
  const auto lapses = relays.lapses_at(rig.now());
  Json state{{"physics_s", seconds(rig.physics_time())}, {"speed", rig.speed()}};
  state["reservoir"] = {
      {"volume_l", water.volume().value()},
      {"temperature_c", water.temperature().value()},
      {"heater_c", heater_point ? Json(heater_point->value()) : Json(nullptr)},
      {"salinity_psu", water.salinity().value()},
      {"corner_salinity_psu", water.corner_salinity().value()},
      {"final_salinity_psu", water.final_salinity().value()},
      {"undissolved_g", water.undissolved().value()},
      {"added_salt_g", water.added_salt().value()},
  };
  state["tank"] = {{"drawn_l", water.drawn().value()},
                   {"drawn_salinity_psu", water.drawn_salinity().value()},
                   {"level_l", rig.tank().level().value()},
                   {"drained_l", rig.tank().drained().value()},
                   {"topped_off_l", rig.tank().topped_off().value()},
                   {"drain_on", rig.tank().drain_on(rig.now())},
                   {"held_off", rig.tank().held_off(rig.now())}};
  state["devices"] = {
      {"pump_on", relays.pump_has_power(rig.now())},
      {"pump_coil", relays.pump_coil(rig.now())},
      {"pump_lapses_in_s", lapses ? Json(seconds(*lapses - rig.now())) : Json(nullptr)},
      {"second_cutoff", relays.second_cutoff()},
      {"circulation", relays.circulating()},
      {"leak", relays.leak()},
      {"tank_high", relays.tank_high()},
  };
  for (std::size_t i = 0; i < probe_names.size(); ++i)
    state["probes"][std::string(probe_names[i])] = probe_state(rig.probe(static_cast<Probe>(i)));
  state["faults"] = {{"transmitter", name_of(answer_faults, rig.transmitter_fault())},
                     {"relay", name_of(answer_faults, rig.relay_fault())},
                     {"relay_welded", relays.welded()},
                     {"pump", name_of(pump_faults, rig.pump_fault())}};
  return state;
}

Answer state(Rig& rig, const Words&) {
  return state_of(rig);
}

Answer help(Rig&, const Words&);

struct Command {
  std::string_view name;
  std::string_view takes;
  std::string_view does;
  Answer (*run)(Rig&, const Words&);
};

constexpr std::array<Command, 12> rig_command_table{{
    {"water", "20 L", "pour in purified water, at the reservoir's temperature", water},
    {"salt", "7.4 kg", "throw in salt mix", salt},
    {"clump", "500 g 30 min", "throw in salt that holds together that long", clump},
    {"heater", "25 C|off", "set point of the heater", heater},
    {"circulation", "on|off", "the circulation pump (coil 1)", circulation},
    {"remove", "10 L", "take out water by hand", remove},
    {"second_cutoff", "on|off", "the second cut-off (coil 2), as a person would reset it",
     second_cutoff},
    {"leak", "on|off", "the leak contact", leak},
    {"tank_high", "on|off", "the contact of a full tank", tank_high},
    {"fault", "WHERE WHAT", "see below", fault},
    {"state", "", "the truth, the devices, the probes and the faults", state},
    {"help", "", "this list", help},
}};

Answer help(Rig&, const Words&) {
  Json commands;
  for (const Command& command : rig_command_table)
    commands.push_back(fmt::format("{} {}: {}", command.name, command.takes, command.does));
  commands.push_back("quit: end the rig");
  return Json{{"commands", commands}};
}

}  // namespace

std::string state_line(const Rig& rig) {
  return state_of(rig).dump();
}

std::string command_help() {
  std::string text = "Commands, one a line; each is answered by one line of JSON:\n";
  for (const Command& command : rig_command_table)
    text += fmt::format("  {:<26} {}\n", fmt::format("{} {}", command.name, command.takes),
                        command.does);
  text += "  quit                       end the rig\nFaults:\n";
  text += fmt::format("  fault {} {}\n", fmt::join(probe_names, "|"), names_of(probe_faults));
  text += "                             (a factor follows: fault cell_a factor 0.9)\n";
  text += fmt::format("  fault slave|transmitter|relay {}   (slave: both devices)\n",
                      names_of(answer_faults));
  text += "  fault relay welded         the pump's contact is closed, whatever the coil says\n";
  text += fmt::format("  fault pump {}\n", names_of(pump_faults));
  return text;
}

std::string run_command(Rig& rig, std::string_view line) {
  Words words = words_of(line);
  const auto replace = Json::error_handler_t::replace;  // a line may hold anything
  const std::string_view name = words.empty() ? std::string_view() : words.front();
  const auto* const command = std::ranges::find(rig_command_table, name, &Command::name);
  if (command == rig_command_table.end()) {
    const auto error = fmt::format("there is no command \"{}\": write {} or quit", name,
                                   names_of(rig_command_table));
    return Json{{"error", error}}.dump(-1, ' ', false, replace);
  }
  words.erase(words.begin());
  const Answer answer = command->run(rig, words);
  if (!answer.ok()) {
    const auto error = fmt::format("{}: {}", command->name, answer.error().message);
    return Json{{"error", error}}.dump(-1, ' ', false, replace);
  }
  Json done{{"ok", true}};
  done.update(*answer);
  return done.dump(-1, ' ', false, replace);
}

}  // namespace brinegate::sim
