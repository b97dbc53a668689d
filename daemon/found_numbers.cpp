// SPDX-License-Identifier: Apache-2.0
#include "daemon/found_numbers.h"

#include <array>
#include <span>

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "config/modbus_words.h"
#include "drivers/modbus_codec.h"
#include "drivers/reading_json.h"

namespace brinegate::daemon {
namespace {

using config::ByteOrder;
using config::ModbusEncoding;

enum class Kind { Unsigned, Signed, Fraction };

Kind kind_of(const FoundNumber& number) {
  if (number.encoding == ModbusEncoding::UInt16)
    return Kind::Unsigned;
  return number.encoding == ModbusEncoding::Int16 ? Kind::Signed : Kind::Fraction;
}

// Of what probes in fresh or sea water show, and how they send it (common practice, no source).
// Of 16 bits a temperature is taken as signed, for it may fall below zero, all else as unsigned.
struct Band {
  Measures measures;
  Kind kind;
  double scale;
  std::string_view in;
  double low;  // of the value
  double high;
};
constexpr std::array bands{
    Band{Measures::Conductivity, Kind::Fraction, 1.0, "mS/cm", 5.0, 70.0},
    Band{Measures::Conductivity, Kind::Fraction, 1.0, "uS/cm", 5000.0, 70000.0},
    Band{Measures::Conductivity, Kind::Unsigned, 1.0, "uS/cm", 5000.0, 65535.0},
    Band{Measures::Conductivity, Kind::Unsigned, 0.01, "mS/cm", 5.0, 70.0},
    Band{Measures::Conductivity, Kind::Unsigned, 0.1, "mS/cm", 5.0, 70.0},
    Band{Measures::Temperature, Kind::Fraction, 1.0, "C", 5.0, 40.0},
    Band{Measures::Temperature, Kind::Signed, 0.1, "C", 5.0, 40.0},
    Band{Measures::Temperature, Kind::Signed, 0.01, "C", 5.0, 40.0},
    Band{Measures::Salinity, Kind::Fraction, 1.0, "ppt", 20.0, 42.0},
    Band{Measures::Salinity, Kind::Unsigned, 0.1, "ppt", 20.0, 42.0},
    Band{Measures::Salinity, Kind::Unsigned, 0.01, "ppt", 20.0, 42.0},
    Band{Measures::Level, Kind::Fraction, 1.0, "", 0.1, 10000.0},
    Band{Measures::Level, Kind::Unsigned, 1.0, "", 1.0, 10000.0},
};

template <class T, std::size_t N>
std::string_view word_of(const config::Word<T> (&words)[N], T value) {
  for (const auto& each : words)
    if (each.value == value)
      return each.word;
  return "";
}

struct Place {
  std::string_view link;
  int unit;
  std::string_view table;
  int address;
};

void add(const Place& place, ModbusEncoding encoding, ByteOrder order,
         std::span<const std::uint16_t> words, std::vector<FoundNumber>& numbers) {
  const auto value = drivers::decode(encoding, order, words);
  if (!value)
    return;
  const std::string_view as = word_of(config::encodings, encoding);
  const std::string_view by = words.size() > 1 ? word_of(config::byte_orders, order) : "";
  numbers.push_back({fmt::format("unit {} {} {} {}{}{}", place.unit, place.table, place.address, as,
                                 by.empty() ? "" : " ", by),
                     fmt::format("{:04X}", fmt::join(words, " ")),
                     fmt::format("link = {}, unit = {}, {} = {}, as = \"{}\"{}",
                                 toml_text(place.link), place.unit, place.table, place.address, as,
                                 by.empty() ? "" : fmt::format(", order = \"{}\"", by)),
                     encoding, *value});
}

}  // namespace

std::vector<FoundNumber> numbers_of(const drivers::FoundUnit& unit, std::string_view link) {
  std::vector<FoundNumber> numbers;
  for (const drivers::RegisterRun& run : unit.runs) {
    const std::string_view table = run.table == config::ModbusTable::Input ? "input" : "holding";
    const std::span<const std::uint16_t> words(run.words);
    for (std::size_t i = 0; i < words.size(); ++i) {
      const Place place{link, unit.unit, table, run.first + static_cast<int>(i)};
      for (const ModbusEncoding encoding : {ModbusEncoding::UInt16, ModbusEncoding::Int16})
        add(place, encoding, ByteOrder::ABCD, words.subspan(i, 1), numbers);
      if (i + 1 < words.size())
        for (const auto& order : config::byte_orders)
          add(place, ModbusEncoding::Float32, order.value, words.subspan(i, 2), numbers);
    }
  }
  return numbers;
}

std::vector<FoundNumber> numbers_of(const drivers::HeardTopic& heard) {
  const drivers::TextContent content = drivers::content_of(heard.payload);
  std::vector<FoundNumber> numbers;
  for (const drivers::NumberInText& each : content.numbers) {
    std::string keys = fmt::format("topic = {}", toml_text(heard.topic));
    if (!each.pointer.empty())
      keys += fmt::format(", pointer = {}", toml_text(each.pointer));
    if (!content.time.empty())
      keys += fmt::format(", time = {}", toml_text(content.time));
    numbers.push_back(
        {fmt::format("{}{}{}", heard.topic, each.pointer.empty() ? "" : " ", each.pointer),
         heard.payload, std::move(keys), std::nullopt, each.value});
  }
  return numbers;
}

std::vector<Meaning> meanings_of(const FoundNumber& number) {
  std::vector<Meaning> meanings;
  for (const Band& band : bands) {
    const double value = band.scale * number.value;
    if (band.kind == kind_of(number) && value >= band.low && value <= band.high)
      meanings.push_back({band.measures, band.scale, band.in, value});
  }
  return meanings;
}

std::string source_of(const FoundNumber& number, const Meaning& meaning) {
  std::string text = "{ " + number.keys;
  if (!meaning.in.empty())
    text += fmt::format(", in = {}", toml_text(meaning.in));
  if (meaning.scale != 1.0)
    text += fmt::format(", scale = {}", meaning.scale);
  return text + " }";
}

std::string toml_text(std::string_view text) {
  std::string quoted = "\"";
  for (const char c : text) {
    const auto code = static_cast<unsigned char>(c);
    if (c == '"' || c == '\\')
      quoted += fmt::format("\\{}", c);
    else if (code < 0x20 || code == 0x7F)
      quoted += fmt::format("\\u{:04X}", code);
    else
      quoted += c;
  }
  return quoted + '"';
}

}  // namespace brinegate::daemon
