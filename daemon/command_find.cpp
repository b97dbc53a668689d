// SPDX-License-Identifier: Apache-2.0
#include "daemon/command_find.h"

#include <charconv>
#include <span>
#include <utility>

#include <fmt/format.h>
#include <fmt/ostream.h>
#include <fmt/ranges.h>
#include <nlohmann/json.hpp>
#include <unistd.h>

#include "config/address.h"
#include "config/advice_broker.h"
#include "config/advice_line.h"
#include "config/measured.h"
#include "config/modbus_words.h"
#include "config/plain_text.h"
#include "config/quantity.h"
#include "daemon/command_options.h"
#include "daemon/command_text.h"
#include "daemon/found_numbers.h"
#include "drivers/modbus_codec.h"

namespace brinegate::daemon {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::string_view link_name = "line";  // in the sources that are proposed
constexpr std::size_t longest_shown = 60;       // characters of a payload

Result<Span> parse_span(std::string_view text, int low, int high) {
  Span span;
  const char* const end = text.data() + text.size();
  const auto [dash, first_failure] = std::from_chars(text.data(), end, span.first);
  if (first_failure == std::errc() && dash != end && *dash == '-') {
    const auto [rest, failure] = std::from_chars(dash + 1, end, span.last);
    if (failure == std::errc() && rest == end && low <= span.first && span.first <= span.last &&
        span.last <= high)
      return span;
  }
  return Error{fmt::format("\"{}\" is no span: write the first and the last, within {}-{}", text,
                           low, high)};
}

Result<Span> parse_register_span(std::string_view text) {
  constexpr int most = 125;  // that one request can read
  auto span = parse_span(text, 0, 65535);
  if (span && span->last - span->first >= most)
    return Error{
        fmt::format("\"{}\" are more than {} registers: ask for fewer at once", text, most)};
  return span;
}

// "conductivity 53.07 mS/cm, level".
std::string meanings_text(const FoundNumber& number) {
  std::vector<std::string> texts;
  for (const Meaning& meaning : meanings_of(number))
    texts.push_back(meaning.in.empty()
                        ? std::string(config::word_for(meaning.measures))
                        : fmt::format("{} {:.6g} {}", config::word_for(meaning.measures),
                                      meaning.value, meaning.in));
  return fmt::format("{}", fmt::join(texts, ", "));
}

std::string plausible_text(const std::vector<FoundNumber>& numbers) {
  std::vector<std::vector<std::string>> rows;
  for (const FoundNumber& number : numbers)
    if (std::string meanings = meanings_text(number); !meanings.empty())
      rows.push_back({config::in_short(number.where, longest_shown),
                      fmt::format("{:.6g}", number.value), std::move(meanings)});
  return rows.empty() ? "" : "  Plausible as:\n" + aligned(rows, 4);
}

std::vector<std::string> register_row(const drivers::RegisterRun& run, std::size_t at) {
  const std::uint16_t word = run.words[at];
  const bool is_input = run.table == config::ModbusTable::Input;
  std::vector<std::string> row{fmt::format("{} {}", is_input ? "input" : "holding", run.first + at),
                               fmt::format("{:04X}", word), fmt::format("{}", word),
                               fmt::format("{}", static_cast<std::int16_t>(word))};
  if (at + 1 == run.words.size())
    return row;
  for (const auto& order : config::byte_orders) {
    const auto value = drivers::decode(config::ModbusEncoding::Float32, order.value,
                                       std::span(run.words).subspan(at, 2));
    row.push_back(value ? fmt::format("{:.3g}", *value) : "-");
  }
  return row;
}

Json json_of(const FoundNumber& number) {
  Json plausible = Json::array();
  for (const Meaning& meaning : meanings_of(number))
    plausible.push_back({{"measures", config::word_for(meaning.measures)},
                         {"value", meaning.value},
                         {"in", meaning.in},
                         {"source", source_of(number, meaning)}});
  return {{"where", number.where},
          {"raw", number.raw},
          {"value", number.value},
          {"plausible", std::move(plausible)}};
}

Json json_of(const std::vector<FoundNumber>& numbers) {
  Json list = Json::array();
  for (const FoundNumber& number : numbers)
    list.push_back(json_of(number));
  return list;
}

void print(const Json& answer, Console& console) {
  console.out << answer.dump(2, ' ', false, Json::error_handler_t::replace) << '\n';
}

ExitStatus find_units(const config::LineAddress& address, const Arguments& arguments,
                      Console& console) {
  OptionReader reader(arguments, console);
  const Span units = reader.read("units", parse_unit_span, {1, 32});
  const Span registers = reader.read("registers", parse_register_span, {0, 15});
  config::Link link;
  link.address = address;
  link.timeout =
      reader.read("timeout", config::parse_duration, Duration(std::chrono::milliseconds(300)));
  if (link.timeout < std::chrono::milliseconds(20) || link.timeout > std::chrono::seconds(5))
    reader.refuse("timeout", "write 20 ms to 5 s");
  if (!reader.all_read())
    return ExitStatus::Usage;
  const auto found =
      scan_line(link, arguments.operand(0),
                {static_cast<std::uint8_t>(units.first), static_cast<std::uint8_t>(units.last),
                 static_cast<std::uint16_t>(registers.first),
                 static_cast<std::uint16_t>(registers.last - registers.first + 1)},
                console);
  if (!found)
    return ExitStatus::Refused;
  if (arguments.has(json_option.name)) {
    Json list = Json::array();
    for (const drivers::FoundUnit& unit : *found)
      list.push_back({{"unit", unit.unit}, {"numbers", json_of(numbers_of(unit, link_name))}});
    print({{"address", arguments.operand(0)}, {"units", std::move(list)}}, console);
  } else {
    for (const drivers::FoundUnit& unit : *found)
      console.out << found_text(unit);
  }
  return found->empty() ? ExitStatus::Refused : ExitStatus::Done;
}

ExitStatus find_topics(const std::string& broker, const Arguments& arguments, Console& console) {
  OptionReader reader(arguments, console);
  const Duration listened =
      reader.read("for", config::parse_duration, Duration(std::chrono::seconds(10)));
  if (listened > std::chrono::hours(1))
    reader.refuse("for", "longer than an hour is not listened");
  if (!reader.all_read())
    return ExitStatus::Usage;
  config::Mqtt mqtt;
  mqtt.broker = broker;
  mqtt.username = arguments.option("username");
  mqtt.password_file = arguments.option("password-file");
  mqtt.ca_file = arguments.option("ca-file");
  const std::string filter(arguments.has("topic") ? arguments.option("topic") : "#");
  const auto heard = listen_to_broker(mqtt, filter, listened, console);
  if (!heard)
    return ExitStatus::Refused;
  if (arguments.has(json_option.name)) {
    Json list = Json::array();
    for (const drivers::HeardTopic& each : heard->topics)
      list.push_back({{"topic", each.topic},
                      {"payload", each.payload},
                      {"messages", each.messages},
                      {"per_second", static_cast<double>(each.messages) / seconds(listened)},
                      {"retained", each.retained},
                      {"numbers", json_of(numbers_of(each))}});
    print({{"broker", broker}, {"topics", std::move(list)}, {"all", heard->all}}, console);
  } else {
    for (const drivers::HeardTopic& each : heard->topics)
      console.out << found_text(each, listened);
  }
  return heard->topics.empty() ? ExitStatus::Refused : ExitStatus::Done;
}

ExitStatus find(const Arguments& arguments, Console& console) {
  const std::string_view address = arguments.operand(0);
  const bool is_broker = address.starts_with("mqtt");
  const auto line = config::parse_line_address(address);
  const auto broker = config::parse_broker_address(address);
  if (is_broker ? broker.ok() : line.ok())
    return is_broker ? find_topics(*broker, arguments, console)
                     : find_units(*line, arguments, console);
  fmt::print(console.err, "brinegate: {}{}\n",
             is_broker ? broker.error().message : line.error().message,
             is_broker ? "" : "; or \"mqtt://HOST:1883\" of a broker");
  return ExitStatus::Usage;
}

}  // namespace

Result<Span> parse_unit_span(std::string_view text) {
  return parse_span(text, 1, 247);
}

std::optional<std::vector<drivers::FoundUnit>> scan_line(const config::Link& link,
                                                         std::string_view address,
                                                         const drivers::ScanRange& range,
                                                         Console& console) {
  fmt::print(console.err, "Asking units {} to {}, one after the other: up to {}.\n",
             range.first_unit, range.last_unit, config::show(longest_scan(link, range)));
  const bool shows_progress = ::isatty(STDERR_FILENO) == 1;
  const auto found = drivers::scan(link, range, [&](std::uint8_t unit) {
    if (shows_progress)
      fmt::print(console.err, "\runit {} ", unit);
    console.err.flush();
  });
  if (shows_progress)
    console.err << "\r          \r";
  if (!found) {
    fmt::print(console.err, "brinegate: {}\n", config::sentence(found.error(), address));
    return std::nullopt;
  }
  if (found->empty())
    fmt::print(console.err,
               "No unit answers. Look at the wiring (A and B changed?), at baud rate and parity, "
               "and at the unit's own address; a slow device needs more time (brinegate find "
               "--timeout).\n");
  return *found;
}

std::optional<drivers::Heard> listen_to_broker(const config::Mqtt& mqtt, const std::string& filter,
                                               Duration duration, Console& console) {
  fmt::print(console.err, "Listening to {} for {}.\n", mqtt.broker, config::show(duration));
  console.err.flush();
  const auto heard = drivers::listen(mqtt, filter, duration);
  if (!heard) {
    fmt::print(console.err, "brinegate: {}\n", config::sentence(heard.error(), mqtt));
    return std::nullopt;
  }
  if (heard->topics.empty())
    fmt::print(console.err,
               "Nothing was said. Does the probe publish to this broker, and may this user read "
               "its topic? One that sends seldom needs a longer time.\n");
  if (!heard->all)
    fmt::print(console.err, "There are more topics than these: narrow them down with --topic.\n");
  return *heard;
}

std::string found_text(const drivers::FoundUnit& unit) {
  std::string text = fmt::format("Unit {}\n", unit.unit);
  if (unit.runs.empty())
    return text + "  " +
           wrapped(
               "It answers, but has no register here: a relay board perhaps, or its registers "
               "stand elsewhere (--registers).",
               2, 2);
  std::vector<std::vector<std::string>> rows{
      {"register", "raw", "uint16", "int16", "ABCD", "CDAB", "BADC", "DCBA"}};
  for (const drivers::RegisterRun& run : unit.runs)
    for (std::size_t i = 0; i < run.words.size(); ++i)
      rows.push_back(register_row(run, i));
  return text + aligned(rows) + plausible_text(numbers_of(unit, link_name));
}

std::string found_text(const drivers::HeardTopic& heard, Duration listened) {
  const double rate = static_cast<double>(heard.messages) / seconds(listened);
  const std::string often = heard.messages == 1 ? (heard.retained ? "retained" : "once")
                            : rate >= 1.0       ? fmt::format("{:.1f} a second", rate)
                                                : fmt::format("every {:.0f} s", 1.0 / rate);
  return fmt::format("{}  ({})\n  {}\n{}", config::in_short(heard.topic, longest_shown), often,
                     config::in_short(heard.payload, longest_shown),
                     plausible_text(numbers_of(heard)));
}

Command find_devices_command() {
  return {
      .words = "find",
      .summary = "what answers on a Modbus line, or what is said on a broker",
      .operands = {{"ADDRESS",
                    "modbus-tcp://HOST:502, modbus-rtu:///dev/ttyUSB0?baud=9600&parity=none, or "
                    "mqtt://HOST:1883"}},
      .options = {{"units", "1-32", "on Modbus: the unit addresses to ask; 1-32 if not given"},
                  {"registers", "0-15",
                   "on Modbus: the zero-based registers to read of each; 0-15 if not given"},
                  {"timeout", "300 ms", "on Modbus: of one answer; 300 ms if not given"},
                  {"topic", "cellar/#", "on a broker: the topics to listen to; all if not given"},
                  {"for", "10 s", "on a broker: how long to listen; 10 s if not given"},
                  {"username", "NAME", "to log in to the broker with"},
                  {"password-file", "FILE", "whose first line is the broker's password"},
                  {"ca-file", "FILE", "whose authorities may vouch for the broker (mqtts)"},
                  json_option},
      .notes =
          "Only reads: on Modbus by the functions 3 and 4, one request at a time; on a broker it "
          "subscribes and publishes nothing. Stop the daemon first: two that ask on one line take "
          "each other's answers. Raw registers stand beside what they would be as uint16, int16 "
          "and, with the next register, as float32 in each order of the bytes. What is plausible "
          "may still be wrong: hold it against the probe's own display. With --json each has its "
          "'source' for the configuration.",
      .run = find};
}

}  // namespace brinegate::daemon
