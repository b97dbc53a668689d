// SPDX-License-Identifier: Apache-2.0
#include "tests/fuzz/entry_points.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstring>
#include <optional>
#include <variant>
#include <vector>

#include "config/chemistry/content_words.h"
#include "config/chemistry/lot_text.h"
#include "config/chemistry/tank_text.h"
#include "config/load.h"
#include "config/measured.h"
#include "config/quantity.h"
#include "config/wall_time.h"
#include "daemon/engine/request.h"
#include "drivers/line_reader.h"
#include "drivers/modbus_codec.h"
#include "drivers/reading_json.h"
#include "tests/fuzz/http_request.h"

namespace brinegate::fuzz {
namespace {

std::string configuration(std::string_view input) {
  const config::Loaded loaded = config::load_text(input, "spoiled.toml");
  if (loaded.site.has_value() == !loaded.errors.empty())
    return "neither a site nor an error, or both";
  const auto lines = std::count(input.begin(), input.end(), '\n') + 1;
  for (const auto* problems : {&loaded.errors, &loaded.hazards})
    for (const config::Problem& problem : *problems)
      if (problem.line < 1 || problem.line > lines || problem.column < 1 || problem.message.empty())
        return "a problem that has no place in the file: " + config::render(problem);
  return "";
}

bool is_amount(double value) {
  return std::isfinite(value) && value >= 0.0;
}

template <class Unit>
bool is_amount(const std::optional<Unit>& quantity) {
  return !quantity || is_amount(quantity->value());
}

std::string request(std::string_view input) {
  const auto read = daemon::parse_request(input);
  if (!read)
    return read.error().message.size() > 10 ? "" : "an error that says nothing";
  if (read->id.size() > 128)
    return "an id without bounds";
  if (const auto* change = std::get_if<daemon::AskChange>(&read->act))
    return is_amount(change->volume.value()) ? "" : "a change of no volume";
  if (const auto* begin = std::get_if<daemon::BeginBatch>(&read->act)) {
    const bool each = std::all_of(begin->lots.begin(), begin->lots.end(), [](const auto& taken) {
      return !taken.lot.empty() && is_amount(taken.salt);
    });
    return each && !begin->lots.empty() && is_amount(begin->dry_fraction.value_or(1.0))
               ? ""
               : "a batch of no lot or no salt";
  }
  if (const auto* note = std::get_if<daemon::NoteAddition>(&read->act))
    return is_amount(note->salt) && is_amount(note->water) && is_amount(note->removed) &&
                   is_amount(note->salt_total)
               ? ""
               : "an amount that is none";
  return "";
}

const std::array reading_shapes{
    drivers::ReadingShape{},
    drivers::ReadingShape{"", "", "", true, true},
    drivers::ReadingShape{"/value", "/time", "/simulated", false, false},
    drivers::ReadingShape{"/cells/0/mS", "/at", "/simulated", true, true},
    drivers::ReadingShape{"no slash", "/a~2b", "/", true, true},
};

std::string check(const drivers::ParsedReading& reading) {
  if (!std::isfinite(reading.value))
    return "a reading that is no number";
  const bool has_good_time =
      !reading.source_time ||
      drivers::from_unix_seconds(seconds(reading.source_time->time_since_epoch()));
  return has_good_time ? "" : "a time of no year";
}

std::string reading(std::string_view input) {
  for (const drivers::ReadingShape& shape : reading_shapes)
    if (const auto parsed = drivers::parse_reading(input, shape))
      if (std::string complaint = check(*parsed); !complaint.empty())
        return complaint;
  for (const drivers::NumberInText& number : drivers::content_of(input).numbers) {
    const auto found = drivers::parse_reading(input, {number.pointer, "", "", true, false});
    if (!found || found->value != number.value)
      return "a number is not where it was said to be: " + number.pointer;
  }
  return "";
}

// The lines that come of the input in pieces of this size.
std::vector<std::string> lines_of(std::string_view input, std::size_t piece) {
  drivers::LineReader reader;
  std::vector<std::string> lines;
  for (; !input.empty(); input.remove_prefix(std::min(piece, input.size())))
    reader.take(input.substr(0, piece),
                [&](auto line) { lines.emplace_back(line.value_or("too long")); });
  return lines;
}

// The first byte says in what pieces the rest arrives.
std::string process_lines(std::string_view input) {
  if (input.empty())
    return "";
  const std::size_t piece = 1U + static_cast<unsigned char>(input[0]);
  input.remove_prefix(1);
  const auto lines = lines_of(input, piece);
  if (lines != lines_of(input, std::max<std::size_t>(input.size(), 1)))
    return "other lines because they came in pieces";
  for (const std::string& line : lines) {
    if (line.size() > drivers::LineReader::longest_line)
      return "a line without bounds";
    const auto parsed = drivers::parse_reading(line, reading_shapes[2]);
    if (parsed && !check(*parsed).empty())
      return check(*parsed);
  }
  return "";
}

// Two bytes choose encoding and order, the rest are registers as they stand on the wire.
std::string modbus_registers(std::string_view input) {
  if (input.size() < 2)
    return "";
  const auto byte = [&](std::size_t at) { return static_cast<unsigned char>(input[at]); };
  const auto encoding = static_cast<config::ModbusEncoding>(byte(0) % 6);
  const auto order = static_cast<config::ByteOrder>(byte(1) % 4);
  std::vector<std::uint16_t> registers;
  for (std::size_t at = 2; at + 1 < input.size(); at += 2)
    registers.push_back(static_cast<std::uint16_t>(byte(at) * 256U + byte(at + 1)));
  const auto value = drivers::decode(encoding, order, registers);
  if (!value)
    return value.error() == SampleFault::BadAnswer ? "" : "a fault of another kind";
  if (!std::isfinite(*value))
    return "a value that is no number";
  return drivers::encode(encoding, order, *value) == registers ? "" : "it reads back as another";
}

template <class Value>
std::string check(const Result<Value>& parsed) {
  if (!parsed)
    return parsed.error().message.size() > 10 ? "" : "an error that says nothing";
  if constexpr (requires { parsed->value(); })
    return std::isfinite(parsed->value()) ? "" : "a quantity that is no number";
  return "";
}

template <class Value>
std::string check_shown(const Result<Value>& parsed) {
  return parsed && config::show(*parsed).empty() ? "a quantity that cannot be shown"
                                                 : check(parsed);
}

std::string quantity(std::string_view input) {
  std::vector<std::string> complaints{check_shown(config::parse_temperature(input)),
                                      check_shown(config::parse_conductivity(input)),
                                      check_shown(config::parse_volume(input)),
                                      check_shown(config::parse_mass(input)),
                                      check_shown(config::parse_duration(input)),
                                      check(config::parse_flow(input)),
                                      check_shown(config::parse_salinity(input)),
                                      check(config::parse_salinity_difference(input)),
                                      check(config::parse_temperature_difference(input)),
                                      check(config::parse_share(input)),
                                      check(config::parse_time(input)),
                                      check(config::parse_last_day(input))};
  for (const Measures measures :
       {Measures::Conductivity, Measures::CompensatedConductivity, Measures::Salinity,
        Measures::Temperature, Measures::Level, Measures::Flow}) {
    complaints.push_back(check(config::parse_measured(measures, input)));
    complaints.push_back(check(config::parse_measured_difference(measures, input)));
    complaints.push_back(check(config::conversion_from(measures, input)));
  }
  const auto any = std::find_if(complaints.begin(), complaints.end(),
                                [](const std::string& complaint) { return !complaint.empty(); });
  return any == complaints.end() ? "" : *any;
}

// Problems and unread lines have their place in the text and say something.
template <class Read>
std::string check_told(const Read& read, bool has_result, std::string_view input) {
  if (has_result == !read.errors.empty())
    return "neither a result nor an error, or both";
  const auto lines = std::count(input.begin(), input.end(), '\n') +
                     std::count(input.begin(), input.end(), '\r') + 1;
  for (const config::Problem& problem : read.errors)
    if (problem.line < 1 || problem.line > lines || problem.column < 1 ||
        problem.message.size() < 10 || problem.message.size() > 1000)
      return "a problem without place or words: " + config::render(problem);
  if constexpr (requires { read.unread; })
    for (const config::UnreadLine& line : read.unread)
      if (line.line < 1 || line.line > lines || line.text.empty() || line.why.empty())
        return "an unread line that is none";
  return "";
}

std::string check(const Assay& assay) {
  if (assay.values.empty() || assay.salinity < PracticalSalinity(1.0) ||
      assay.salinity > PracticalSalinity(60.0) || !is_amount(assay.temperature.value()))
    return "an assay of no water or of nothing";
  const config::WaterOfSample water{assay.salinity, assay.temperature, false};
  for (const auto& [analyte, value] : assay.values) {
    const CensoredValue& content = value.content;
    const bool makes_sense =
        is_amount(content.low) && is_amount(content.high) && content.low <= content.high &&
        content.high > 0.0 && is_amount(content.standard_uncertainty) &&
        content.standard_uncertainty <= content.high && (!content.censored() || content.low == 0.0);
    if (!makes_sense || value.written.empty() || value.line < 1 ||
        config::show_content(content, analyte, water).empty())
      return "a content that is none: " + value.written;
  }
  return "";
}

std::string lot_text(std::string_view input) {
  const config::ReadLot read = config::read_lot(input, "lot", {});
  if (std::string complaint = check_told(read, read.lot.has_value(), input); !complaint.empty())
    return complaint;
  if (!read.lot)
    return "";
  if (read.lot->name.empty() || read.lot->version != 0 ||
      !is_amount(read.lot->dry_fraction.value_or(1.0)))
    return "a lot of no name, or with what it cannot have";
  return check(read.lot->assay);
}

std::string tank_text(std::string_view input) {
  const config::ReadTest test = config::read_water_test(input, "test", {});
  std::string complaint = check_told(test, test.test.has_value(), input);
  if (complaint.empty() && test.test)
    complaint = check(test.test->assay);
  const config::ReadTank read = config::read_tank(input, "tank");
  if (complaint.empty())
    complaint = check_told(read, read.tank.has_value(), input);
  if (!complaint.empty() || !read.tank)
    return complaint;
  if (read.tank->name.empty() || !(read.tank->volume > Litres(0.0)))
    return "a tank of no name or no water";
  for (const auto& [analyte, wanted] : read.tank->wanted)
    if (!is_amount(wanted.range.low) || wanted.range.low >= wanted.range.high ||
        !std::isfinite(wanted.range.high) || !is_amount(wanted.weight))
      return "a range that is none";
  for (const auto& [analyte, used] : read.tank->consumption)
    if (!std::isfinite(used.per_day) || !is_amount(used.standard_uncertainty))
      return "a consumption that is none";
  return "";
}

// The first line names, the second is the value.
std::string content(std::string_view input) {
  const std::size_t end = std::min(input.find('\n'), input.size());
  const std::string_view name = input.substr(0, end);
  const std::string_view value = end < input.size() ? input.substr(end + 1) : "";
  if (config::unknown_analyte(name).message.size() < 10)
    return "an error that says nothing";
  const config::NamedAnalyte of = config::analyte_named(name).value_or(config::NamedAnalyte{});
  if (!(of.factor > 0.0 && of.factor <= 1.0))
    return "a form that weighs less than its element";
  const auto parsed = config::parse_content(value, of, {});
  const auto used = config::parse_consumption(value, of, {});
  if (used && !std::isfinite(used->per_day))
    return "a consumption that is no number";
  if (!parsed)
    return parsed.error().message.size() > 10 ? "" : "an error that says nothing";
  Assay assay{PracticalSalinity(35.0), Celsius(25.0), {}, {{of.analyte, *parsed}}};
  assay.values.begin()->second.line = 1;
  return check(assay);
}

constexpr std::array all{
    EntryPoint{"configuration", configuration},
    EntryPoint{"request", request},
    EntryPoint{"reading", reading},
    EntryPoint{"process_lines", process_lines},
    EntryPoint{"modbus_registers", modbus_registers},
    EntryPoint{"quantity", quantity},
    EntryPoint{"lot_text", lot_text},
    EntryPoint{"tank_text", tank_text},
    EntryPoint{"content", content},
    EntryPoint{"http_request", http_request},
};

}  // namespace

std::span<const EntryPoint> entry_points() {
  return all;
}

}  // namespace brinegate::fuzz
