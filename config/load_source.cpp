// SPDX-License-Identifier: Apache-2.0
// The tables source = { ... } and readback = { ... }: where a raw number or contact comes from, and
// in which unit or polarity.
#include <algorithm>
#include <array>
#include <string_view>

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "config/load_sections.h"
#include "config/measured.h"
#include "config/modbus_words.h"
#include "config/nearest.h"
#include "config/quantity.h"

namespace brinegate::config {
namespace {

struct NamedTable {
  std::string_view key;
  ModbusTable table;
  std::int64_t data_sheet_base;  // of the 1-based notation with the table in its first digit
};
constexpr std::array modbus_tables{
    NamedTable{"coil", ModbusTable::Coil, 1},
    NamedTable{"discrete", ModbusTable::Discrete, 10001},
    NamedTable{"input", ModbusTable::Input, 30001},
    NamedTable{"holding", ModbusTable::Holding, 40001},
};

bool is_bit_table(ModbusTable table) {
  return table == ModbusTable::Coil || table == ModbusTable::Discrete;
}

int registers_of(ModbusEncoding encoding) {
  const bool is_wide = encoding == ModbusEncoding::UInt32 || encoding == ModbusEncoding::Int32 ||
                       encoding == ModbusEncoding::Float32;
  return is_wide ? 2 : 1;
}

// Exactly one of coil, discrete, input, holding.
bool read_register(TableReader& reader, ModbusSource& source) {
  std::vector<std::string_view> given;
  std::int64_t address = 0;
  bool was_read = false;
  for (const NamedTable& named : modbus_tables) {
    if (!reader.has(named.key))
      continue;
    given.push_back(named.key);
    was_read = reader.read_whole(named.key, 0, 65535, address);
    source.table = named.table;
    if (was_read && address >= named.data_sheet_base && named.data_sheet_base > 1 &&
        address < named.data_sheet_base + 9999)
      reader.hazard(
          named.key,
          fmt::format("'{}' = {} looks like a data sheet's notation, but addresses here "
                      "are zero-based as on the wire: the sheet's {} is {} = {}",
                      named.key, address, address, named.key, address - named.data_sheet_base));
  }
  if (given.size() == 1) {
    source.address = static_cast<std::uint16_t>(address);
    return was_read;
  }
  if (given.empty())
    reader.error("", fmt::format("no register is named in {}: write one of coil, discrete, input, "
                                 "holding, such as input = 0",
                                 reader.where()));
  else
    reader.error(given.back(),
                 fmt::format("{} name more than one register: keep one", fmt::join(given, ", ")));
  return false;
}

void read_encoding(TableReader& reader, Measures measures, ModbusSource& source) {
  if (is_bit_table(source.table)) {
    source.encoding = ModbusEncoding::Bit;
    reader.refuse("as", "a coil or discrete input is one bit");
    reader.refuse("order", "a coil or discrete input is one bit");
    if (!is_contact(measures))
      reader.error(source.table == ModbusTable::Coil ? "coil" : "discrete",
                   fmt::format("one bit cannot tell a {}: write input = ... or holding = ...",
                               word_for(measures)));
    return;
  }
  if (!reader.has("as"))
    reader.error("", fmt::format("'as' is missing in {}: write how the register is encoded, one "
                                 "of uint16, int16, uint32, int32, float32",
                                 reader.where()));
  if (!reader.read_word("as", encodings, source.encoding))
    return;
  if (registers_of(source.encoding) == 1)
    return reader.refuse("order", "a 16-bit value has one order only, the standard's");
  if (!reader.has("order"))
    reader.error("as",
                 "'order' is missing: a 32-bit value has no default order; write "
                 "order = \"ABCD\", \"CDAB\", \"BADC\" or \"DCBA\" and verify it with two "
                 "known values");
  reader.read_word("order", byte_orders, source.order);
  if (source.address == 65535)
    reader.error("", fmt::format("a 32-bit value needs two registers, but {} is the last: write "
                                 "the first of the two",
                                 source.address));
}

// The `in`, `scale`, `offset` and `closed_means` that all sources have in common.
void read_contact(TableReader& reader, Measures measures, bool required, Conversion& conversion) {
  for (const std::string_view key : {"in", "scale", "offset"})
    reader.refuse(key, "a contact is closed or open; write closed_means instead");
  const ContactWords words = contact_words(measures);
  if (!reader.has("closed_means") && required)
    reader.error("", fmt::format("'closed_means' is missing in {}: write closed_means = \"{}\" or "
                                 "\"{}\", whichever the wiring makes true of a 1",
                                 reader.where(), words.one, words.zero));
  const Word<Conversion> polarities[]{{words.one, {1.0, 0.0, {}}}, {words.zero, {-1.0, 1.0, {}}}};
  reader.read_word("closed_means", polarities, conversion);
}

void read_number(TableReader& reader, Measures measures, bool table_follows,
                 Conversion& conversion) {
  reader.refuse("closed_means", "only a contact is closed or open");
  if (reader.read("scale", conversion.scale) && conversion.scale == 0.0)
    reader.error("scale", "'scale' is 0: every reading would be the same; write for example 0.1");
  reader.read("offset", conversion.offset);
  if (measures == Measures::SpecificGravity)
    return reader.refuse("in", "a specific gravity is a pure number");
  std::string unit;
  if (!reader.has("in"))
    reader.error("", fmt::format("'in' is missing in {}: write the unit of the number that "
                                 "arrives, after 'scale' and 'offset'",
                                 reader.where()));
  if (!reader.read("in", unit))
    return;
  const auto units = table_follows ? height_conversion(unit) : conversion_from(measures, unit);
  if (!units)
    return reader.error("in", "'in': " + units.error().message);
  conversion.scale *= units->scale;
  conversion.offset = conversion.offset * units->scale + units->offset;
}

void note_register(TableReader& reader, const ModbusSource& source, Context& context) {
  RegisterUse use{reader.where(), source.link,    source.unit,
                  source.table,   source.address, registers_of(source.encoding)};
  for (const RegisterUse& other : context.read)
    if (use.overlaps(other))
      reader.error("", fmt::format("{} and {} read the same register of unit {} on link.{}: two "
                                   "probes must be two measurements; correct one of the addresses",
                                   other.user, use.user, use.unit, use.link));
  context.read.push_back(use);
}

SourceAddress read_modbus(TableReader& reader, Measures measures, Context& context,
                          Source& result) {
  ModbusSource source;
  const Link* link = find_link(reader, context);
  const bool unit_read = read_unit(reader, source.unit);
  const bool register_read = read_register(reader, source);
  read_encoding(reader, measures, source);
  reader.read("every", parse_duration, {"50 ms", "10 min"}, source.every);
  result.every = source.every;
  if (!link)
    return source;
  source.link = link->name;
  result.simulated = link->simulated;
  if (unit_read && register_read)
    note_register(reader, source, context);
  return source;
}

// As above, for what has no register: the same value twice would pass for two witnesses.
void note_value(TableReader& reader, const std::string& value, Context& context) {
  auto& values = context.values_read;
  if (std::find(values.begin(), values.end(), value) != values.end())
    reader.error("", fmt::format("another probe reads {} already: two probes must be two "
                                 "measurements; correct one of them",
                                 value));
  values.push_back(value);
}

void read_pointer(TableReader& reader, std::string_view key, std::string& pointer) {
  if (reader.read(key, pointer) && pointer.front() != '/')
    reader.error(key, fmt::format("'{}': \"{}\" is no JSON pointer: it begins with '/', such as "
                                  "\"/temperature_c\"",
                                  key, pointer));
}

SourceAddress read_mqtt_source(TableReader& reader, Context& context) {
  MqttSource source;
  source.simulated_pointer = "/simulated";
  const bool topic_read = read_topic(reader, context, source.topic);
  read_pointer(reader, "pointer", source.pointer);
  read_pointer(reader, "time", source.time_pointer);
  read_pointer(reader, "simulated", source.simulated_pointer);
  if (source.pointer.empty())
    for (const std::string_view key : {"time", "simulated"})
      reader.refuse(key, "without 'pointer' the whole payload is the number; write pointer too");
  if (topic_read)
    note_value(reader,
               source.pointer.empty()
                   ? fmt::format("the payload of \"{}\"", source.topic)
                   : fmt::format("\"{}\" of \"{}\"", source.pointer, source.topic),
               context);
  return source;
}

SourceAddress read_process(TableReader& reader, Context& context) {
  ProcessSource source;
  const Array* list = nullptr;
  if (!reader.read_list("command", list))
    return source;
  for (const Node& node : *list) {
    const auto* text = std::get_if<std::string>(&node.value);
    if (!text) {
      reader.wrong_type("command", node, "a list of texts");
      return source;
    }
    source.command.push_back(*text);
  }
  if (source.command.front().empty())
    reader.error("command", "'command' begins with an empty text: write the program first");
  note_value(reader, fmt::format("the output of \"{}\"", fmt::join(source.command, " ")), context);
  return source;
}

}  // namespace

bool RegisterUse::overlaps(const RegisterUse& other) const {
  return link == other.link && unit == other.unit && table == other.table &&
         first < other.first + other.count && other.first < first + count;
}

bool read_unit(TableReader& reader, std::uint8_t& unit) {
  const Node* node = reader.find("unit");
  const auto* whole = node ? std::get_if<std::int64_t>(&node->value) : nullptr;
  if (whole && *whole == 0) {
    reader.error("unit",
                 "'unit' 0 speaks to every device at once: write the device's own address, "
                 "1 to 247");
    return false;
  }
  std::int64_t read = 0;
  if (!reader.read_whole("unit", 1, 247, read))
    return false;
  unit = static_cast<std::uint8_t>(read);
  return true;
}

// Which of several kinds of table this is, told by the key that only one kind has.
const Kind* kind_of_table(const Node& node, std::span<const Kind> kinds, std::string_view where,
                          Problems& problems) {
  const auto* table = std::get_if<Table>(&node.value);
  std::vector<const Kind*> given;
  std::vector<std::string> ways;
  for (const Kind& kind : kinds) {
    ways.push_back(fmt::format("{} ({})", kind.key, kind.title));
    for (const Member& member : table ? *table : Table{})
      if (member.key == kind.key)
        given.push_back(&kind);
  }
  if (given.size() == 1)
    return given.front();
  if (!table)
    problems.error(node.at, fmt::format("'{}' is {}: expected a table with one of {}", where,
                                        kind_of(node), fmt::join(ways, ", ")));
  else
    problems.error(node.at,
                   fmt::format("{} has {} of {}: write exactly one", where,
                               given.empty() ? "none" : "more than one", fmt::join(ways, ", ")));
  return nullptr;
}

Source read_source(const Node& node, Measures measures, bool table_follows,
                   const std::string& where, Context& context) {
  static constexpr Kind kinds[]{{"link", "Modbus", known::modbus_source},
                                {"topic", "MQTT", known::mqtt_source},
                                {"command", "a child process", known::process_source}};
  Source result;
  const Kind* kind = kind_of_table(node, kinds, where, context.problems);
  if (!kind)
    return result;
  TableReader reader(node, kind->section, where, context.problems);
  if (kind->key == "link")
    result.address = read_modbus(reader, measures, context, result);
  else if (kind->key == "topic")
    result.address = read_mqtt_source(reader, context);
  else
    result.address = read_process(reader, context);
  if (is_contact(measures))
    // A read-back's 1 is "running" unless it says otherwise: it is the output's own state.
    read_contact(reader, measures,
                 measures != Measures::PumpRunning && measures != Measures::DrainRunning,
                 result.conversion);
  else
    read_number(reader, measures, table_follows, result.conversion);
  return result;
}

}  // namespace brinegate::config
