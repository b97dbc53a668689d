// SPDX-License-Identifier: Apache-2.0
#include "daemon/setup_guide.h"

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <system_error>
#include <utility>

#include <fmt/format.h>
#include <fmt/ostream.h>
#include <fmt/ranges.h>

#include "config/advice.h"
#include "config/likely_cause.h"
#include "config/load.h"
#include "config/measured.h"
#include "config/plain_text.h"
#include "daemon/command_find.h"
#include "daemon/command_options.h"
#include "daemon/command_text.h"
#include "rules/verification.h"

namespace brinegate::daemon {
namespace {

constexpr std::size_t most_candidates = 50;
constexpr std::size_t longest_raw = 24;  // characters of a payload
constexpr std::size_t longest_where = 40;
constexpr Duration listened = std::chrono::seconds(10);

// Registers do not tell whether a probe compensates: that is asked.
Measures found_as(Measures measures) {
  return measures == Measures::CompensatedConductivity ? Measures::Conductivity : measures;
}

// About three times its interval; empty: it was heard too seldom to know.
std::string stale_after(const drivers::HeardTopic& heard) {
  constexpr double usual = 5.0;   // s
  constexpr double most = 600.0;  // s
  if (heard.messages < 2)
    return "";
  const double silent = 3.0 * seconds(listened) / static_cast<double>(heard.messages);
  return fmt::format("{} s", std::clamp(std::ceil(silent), usual, most));
}

std::vector<std::string> serial_devices() {
  std::vector<std::string> devices;
  std::error_code none;
  for (const auto& entry : std::filesystem::directory_iterator("/dev/serial/by-id", none))
    devices.push_back("modbus-rtu://" + entry.path().string());
  return devices;
}

}  // namespace

std::string SetupGuide::ask(std::string_view question, const std::string& otherwise) {
  console_.out << '\n' << wrapped(question, 0, 0);
  if (!otherwise.empty())
    fmt::print(console_.out, "[{}] ", otherwise);
  console_.out << "> " << std::flush;
  std::string line;
  if (!ended_ && !std::getline(console_.in, line))
    ended_ = true;
  const std::string answer(config::trimmed(line));
  return answer.empty() ? otherwise : answer;
}

bool SetupGuide::ask_yes(std::string_view question) {
  return ask(question, "yes").starts_with('y');
}

void SetupGuide::say(std::string_view text) {
  console_.out << wrapped(text, 0, 0);
}

void SetupGuide::fill(std::string& field, std::string_view question, const std::string& otherwise) {
  for (;;) {
    field = ask(question, otherwise);
    const std::string objection = objection_to(answers_, file_);
    if (objection.empty() || ended_)
      return;
    say(objection);
  }
}

bool SetupGuide::fill_address(std::string& address, std::string_view question) {
  for (;;) {
    address = ask(question, "");
    if (address.empty())
      return false;
    const std::string objection = objection_to(answers_, file_);
    if (objection.empty())
      return true;
    say(objection);
  }
}

std::optional<SetupAnswers> SetupGuide::ask_all() {
  say("This leads to a first configuration. It reads what is connected, switches nothing, and "
      "writes one file at the end. Stop the daemon first, if it runs. Enter takes what stands in "
      "brackets.");
  ask_place();
  ask_profile();
  ask_line();
  ask_broker();
  ask_probes();
  ask_pump();
  if (ended_) {
    console_.err << "brinegate: the answers ended before the last question: nothing was written\n";
    return std::nullopt;
  }
  if (std::none_of(answers_.probes.begin(), answers_.probes.end(),
                   [](const SetupProbe& probe) { return is_salinity_cell(probe.measures); })) {
    console_.err << "brinegate: no probe tells the salinity, so nothing could be proven: nothing "
                    "was written. Look with: brinegate help find\n";
    return std::nullopt;
  }
  return answers_;
}

void SetupGuide::ask_place() {
  fill(answers_.site, "A name for this place, part of every MQTT topic: a-z, 0-9, _ and -.",
       answers_.site);
  fill(answers_.data, "The folder for the record of batches.", answers_.data);
  if (ask_yes("A dashboard at http://127.0.0.1:8480, for this computer alone?"))
    answers_.http = "127.0.0.1:8480";
  fill(answers_.station, "A name for the mixing reservoir.", answers_.station);
  fill(answers_.capacity, "What does the full reservoir hold, such as 200 L?", "");
}

void SetupGuide::ask_profile() {
  fill(answers_.salinity, "The salinity that a batch is to have.", answers_.salinity);
  fill(answers_.tolerance, "How far it may be from that, either way.", answers_.tolerance);
  const std::string usual = std::exchange(answers_.warmest, "35 C");
  fill(answers_.coldest, "The lowest temperature of the water.", answers_.coldest);
  fill(answers_.warmest, "The highest.", usual);
}

void SetupGuide::ask_line() {
  const auto devices = serial_devices();
  if (!devices.empty())
    fmt::print(console_.out, "\nSerial devices: {}\n", fmt::join(devices, "\n                "));
  for (;;) {
    answers_.line = SetupLine{"", simulated_};
    if (!fill_address(answers_.line->address,
                      "The Modbus line that probes are on, modbus-tcp://HOST:502 or "
                      "modbus-rtu:///dev/ttyUSB0?baud=9600&parity=none; Enter: there is none.")) {
      answers_.line.reset();
      return;
    }
    if (scan())
      return;
  }
}

bool SetupGuide::scan() {
  std::optional<Span> span;
  while (!span && !ended_) {
    const auto given = parse_unit_span(ask("Which unit addresses to ask?", "1-32"));
    if (given)
      span = *given;
    else
      say(given.error().message);
  }
  if (!span)
    return false;
  const config::Loaded loaded = loaded_from(answers_, file_);
  drivers::ScanRange range;
  range.first_unit = static_cast<std::uint8_t>(span->first);
  range.last_unit = static_cast<std::uint8_t>(span->last);
  const auto units = scan_line(loaded.site->links.front(), answers_.line->address, range, console_);
  for (const drivers::FoundUnit& unit : units.value_or(std::vector<drivers::FoundUnit>{})) {
    console_.out << '\n' << found_text(unit);
    for (FoundNumber& number : numbers_of(unit, setup_line_name))
      found_.push_back({std::move(number), ""});
  }
  return units && !units->empty();
}

void SetupGuide::ask_broker() {
  for (;;) {
    answers_.broker.emplace();
    if (!fill_address(answers_.broker->address,
                      "The MQTT broker that probes publish to, mqtt://HOST:1883 or "
                      "mqtts://HOST:8883; Enter: there is none.")) {
      answers_.broker.reset();
      return;
    }
    fill(answers_.broker->username, "The user to log in with; Enter: none.", "");
    if (!answers_.broker->username.empty())
      fill(answers_.broker->password_file,
           "The file whose first line is the password, readable by you alone; Enter: none.", "");
    if (answers_.broker->address.starts_with("mqtts"))
      fill(answers_.broker->ca_file,
           "The certificates of who may vouch for the broker; Enter: whom this computer trusts.",
           "");
    if (listen())
      return;
  }
}

bool SetupGuide::listen() {
  const config::Loaded loaded = loaded_from(answers_, file_);
  if (!loaded.site)
    return false;
  const auto heard =
      listen_to_broker(*loaded.site->mqtt, "#", listened, console_).value_or(drivers::Heard{});
  for (const drivers::HeardTopic& each : heard.topics) {
    auto numbers = numbers_of(each);
    if (!numbers.empty())
      console_.out << '\n' << found_text(each, listened);
    for (FoundNumber& number : numbers)
      found_.push_back({std::move(number), stale_after(each)});
  }
  return !heard.topics.empty();
}

bool SetupGuide::has_probe(Measures measures) const {
  return std::any_of(answers_.probes.begin(), answers_.probes.end(),
                     [&](const SetupProbe& probe) { return probe.measures == measures; });
}

void SetupGuide::ask_probes() {
  ask_probe(std::string(setup_thermometer), Measures::Temperature,
            "Which is the temperature of the water in the reservoir?");
  ask_cells();
  ask_probe("height", Measures::Level, "Which is the level in the reservoir?");
}

void SetupGuide::ask_cells() {
  Measures kind = Measures::Salinity;
  if (!has_probe(Measures::Temperature))
    say("Without the water's temperature a conductivity says nothing of salinity: only a probe "
        "that shows salinity itself can be used.");
  else
    kind = ask_kind_of_cell();
  if (ask_probe("cell_a", kind, "Which is the cell in the reservoir?"))
    ask_probe("cell_b", kind,
              "A second cell at another place in the reservoir is the best witness against a "
              "fouled one. Which is it?");
}

Measures SetupGuide::ask_kind_of_cell() {
  for (;;) {
    const auto kind = config::measures_of(
        ask("What does the cell send: conductivity (as it is in the water), "
            "compensated-conductivity (scaled to 25 C by the probe itself) or salinity?",
            "conductivity"));
    if (kind && (found_as(*kind) == Measures::Conductivity || *kind == Measures::Salinity))
      return *kind;
    say("Write conductivity, compensated-conductivity or salinity.");
  }
}

bool SetupGuide::ask_probe(const std::string& name, Measures measures, std::string_view question) {
  for (;;) {
    const Choice choice = choose(name, measures, question);
    if (choice != Choice::Again)
      return choice == Choice::Taken;
  }
}

SetupGuide::Choice SetupGuide::choose(const std::string& name, Measures measures,
                                      std::string_view question) {
  SetupProbe probe{name, measures, {}, {}, {}, {}};
  if (!choose_source(probe, question))
    return Choice::None;
  if (measures == Measures::CompensatedConductivity)
    probe.alpha = ask("By how much per C does the probe compensate, by its own settings?", "2.0 %");
  answers_.probes.push_back(std::move(probe));
  const std::string objection = objection_to(answers_, file_);
  if (!objection.empty())
    say(objection);
  else if (verify_last_probe())
    return Choice::Taken;
  answers_.probes.pop_back();
  return Choice::Again;
}

bool SetupGuide::choose_source(SetupProbe& probe, std::string_view question) {
  std::vector<std::pair<const Found*, Meaning>> candidates;
  std::vector<std::vector<std::string>> rows;
  for (const Found& found : found_)
    for (const Meaning& meaning : meanings_of(found.number))
      if (meaning.measures == found_as(probe.measures) && rows.size() < most_candidates) {
        candidates.emplace_back(&found, meaning);
        rows.push_back({fmt::format("{}", candidates.size()),
                        config::in_short(found.number.raw, longest_raw),
                        fmt::format("{:.6g} {}", meaning.value, meaning.in),
                        config::in_short(found.number.where, longest_where)});
      }
  console_.out << '\n' << aligned(rows);
  for (;;) {
    const std::string answer = ask(
        fmt::format("{} {} as in the configuration, {{ link = \"{}\", unit = 1, input = 0, ... }}; "
                    "Enter: there is none.",
                    question, rows.empty() ? "A source" : "Its row in this list; or a source",
                    setup_line_name),
        "");
    if (answer.empty())
      return false;
    const auto index = parse_number(answer);
    if (answer.front() == '{') {
      probe.source = answer;
      if (probe.measures == Measures::Level)
        probe.table =
            ask("Its strapping table, number and litres, such as 0 0, 80 200; Enter: "
                "its number is a volume.",
                "");
      return true;
    }
    if (index && *index >= 1.0 && *index < static_cast<double>(candidates.size()) + 1.0) {
      const auto& [found, meaning] = candidates[static_cast<std::size_t>(*index) - 1];
      probe.stale_after = found->stale_after;
      probe.source = probe.measures == Measures::Level ? ask_level(probe, found->number, meaning)
                                                       : source_of(found->number, meaning);
      return true;
    }
    say(fmt::format("\"{}\" is not in the list.", answer));
  }
}

std::string SetupGuide::ask_level(SetupProbe& probe, const FoundNumber& number, Meaning meaning) {
  const std::string unit =
      ask("In which unit is it: L, mL or m3 of a volume; or mm, cm, m, in, %, mA or V of what a "
          "table turns into litres?",
          "L");
  meaning.in = unit;
  if (config::height_conversion(unit))
    probe.table =
        ask("Which number is how many litres? Two pairs at least, the lowest first, such as "
            "0 0, 80 200.",
            "");
  return source_of(number, meaning);
}

bool SetupGuide::verify_last_probe() {
  const config::Loaded loaded = loaded_from(answers_, file_);
  const config::Station& station = loaded.site->stations.front();
  const std::size_t index = answers_.probes.size() - 1;
  const ProbeSpec& spec = station.spec.probes[index];
  if (!is_salinity_cell(spec.measures) || !needs_verification(spec))
    return true;
  say(fmt::format(
      "\n{} at two points: a wrong register or order of bytes often looks like water. "
      "Hold it first into fresh water, then into a standard, say of 53.07 mS/cm at "
      "25 C: two points {} apart or more.",
      spec.name, config::show_difference(spec.measures, least_distance(spec.measures, 0.0))));
  Verification verification;
  while (!is_verified(spec, verification)) {
    const std::string shown =
        ask("What does its own display show now, or the standard it hangs in? Enter: later.", "");
    if (shown.empty())
      return true;
    const auto value = config::parse_measured(spec.measures, shown);
    if (!value) {
      say(value.error().message);
      continue;
    }
    const auto& source = station.sources[index];
    const auto raw =
        drivers::read_once(loaded.site->links.front(), std::get<config::ModbusSource>(source));
    CommandAnswer answer{AnswerCode::NothingArrives, {}, {}, {}, {}, {}, {}};
    if (raw) {
      Comparison compared{
          index, spec.measures, {*value, converted(spec.conversion, *raw), {}}, *raw};
      compared.agrees = take_point(spec, compared.point, verification);
      compared.verified = is_verified(spec, verification);
      compared.least_distance = least_distance(spec.measures, *value);
      answer.code = compared.agrees ? AnswerCode::Done : AnswerCode::DisplayDisagrees;
      answer.compared = compared;
    }
    say(config::sentence(answer));
    if (answer.code != AnswerCode::DisplayDisagrees)
      continue;
    say(config::likely_cause(spec, source, *answer.compared, std::nullopt));
    if (ask_yes("Choose another source for it?"))
      return false;
  }
  return true;
}

void SetupGuide::ask_pump() {
  if (!has_probe(Measures::Level)) {
    say("Without a level nothing could end a change at its volume, so the pump is left out: the "
        "batch is only watched.");
    return;
  }
  const std::string question = fmt::format(
      "What switches the water-change pump: {}{}or none, so that the batch is only watched? "
      "Nothing is switched now.",
      answers_.line ? "relay (on the Modbus line), " : "",
      answers_.broker ? "broker (a switch on MQTT), " : "");
  std::string by = ask(question, "none");
  while (by != "none" && !(by == "relay" && answers_.line) && !(by == "broker" && answers_.broker))
    by = ask(question, "none");
  if (by == "none")
    return;
  answers_.pump.emplace();
  SetupPump& pump = *answers_.pump;
  pump.on_broker = by == "broker";
  if (pump.on_broker) {
    fill(pump.topic, "The topic of the switch.", "");
    fill(pump.on,
         "What to send for \"on\"; {seconds} becomes the time after which it switches "
         "off by itself.",
         pump.on);
    fill(pump.off, "What to send for \"off\".", pump.off);
  } else {
    ask_relay(pump);
  }
  fill(pump.max_volume, "The most that one change may draw, such as 40 L.", "");
  fill(pump.max_run, "The longest that the pump may run in one change.", pump.max_run);
}

void SetupGuide::ask_relay(SetupPump& pump) {
  fill(pump.unit, "The unit address of the relay.", "");
  fill(pump.coil, "Its coil, zero-based: a data sheet's 00001 is 0.", pump.coil);
  fill(pump.timed,
       "The holding register of its timed \"on\", zero-based: it then drops by itself when the "
       "daemon dies. Enter: it has none.",
       "");
  if (!pump.timed.empty())
    fill(pump.step, "What one step of that register stands for.", pump.step);
  fill(pump.readback,
       "The discrete input that says that the pump has power, zero-based; Enter: there is none.",
       "");
}

}  // namespace brinegate::daemon
