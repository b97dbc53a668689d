// SPDX-License-Identifier: Apache-2.0
// The tables output = { ... } and second_cutoff = { ... }: what gives the pump its power.
#include <algorithm>

#include <fmt/format.h>

#include "config/load_sections.h"
#include "config/quantity.h"

namespace brinegate::config {
namespace {

void note_written(TableReader& reader, std::string_view key, RegisterUse use, Context& context) {
  for (const RegisterUse& other : context.written)
    if (use.overlaps(other))
      reader.error(key, fmt::format("{} and {} switch the same {} of unit {} on link.{}: one would "
                                    "undo the other; correct one of the addresses",
                                    other.user, use.user, key, use.unit, use.link));
  context.written.push_back(std::move(use));
}

void read_timed(const Node& node, const std::string& where, const RegisterUse& coil,
                Context& context, ModbusOutput& output) {
  TableReader reader(node, known::timed, where + ".timed", context.problems);
  TimedOn timed;
  std::int64_t holding = 0;
  if (reader.read_whole("holding", 0, 65535, holding)) {
    timed.holding = static_cast<std::uint16_t>(holding);
    if (!coil.link.empty())
      note_written(reader, "holding",
                   {coil.user, coil.link, coil.unit, ModbusTable::Holding, holding, 1}, context);
  }
  reader.read("step", parse_duration, {"1 ms", "60 s"}, timed.step);
  output.timed = timed;
}

ModbusOutput read_modbus_output(const Node& node, const std::string& where, Context& context) {
  TableReader reader(node, known::modbus_output, where, context.problems);
  ModbusOutput output;
  const Link* link = find_link(reader, context);
  const bool unit_read = read_unit(reader, output.unit);
  std::int64_t coil = 0;
  const bool coil_read = reader.read_whole("coil", 0, 65535, coil);
  output.coil = static_cast<std::uint16_t>(coil);
  reader.read("simulated", output.simulated);
  RegisterUse use{where, "", output.unit, ModbusTable::Coil, coil, 1};
  if (link) {
    output.link = link->name;
    output.simulated = output.simulated || link->simulated;
    use.link = unit_read ? link->name : "";
    if (unit_read && coil_read)
      note_written(reader, "coil", use, context);
  }
  if (const Node* timed = reader.find("timed"))
    read_timed(*timed, where, use, context, output);
  return output;
}

MqttOutput read_mqtt_output(const Node& node, const std::string& where, Context& context) {
  TableReader reader(node, known::mqtt_output, where, context.problems);
  MqttOutput output;
  if (read_topic(reader, context, output.topic)) {
    const auto& topics = context.topics_written;
    if (std::find(topics.begin(), topics.end(), output.topic) != topics.end())
      reader.error("topic", fmt::format("'topic': another output switches \"{}\" already: one "
                                        "would undo the other; correct one of the topics",
                                        output.topic));
    context.topics_written.push_back(output.topic);
  }
  const bool on_read = reader.read("on", output.on);
  const bool off_read = reader.read("off", output.off);
  if (on_read && off_read && output.on == output.off)
    reader.error("off", "'off' is the same payload as 'on': the pump could never be stopped");
  reader.read("simulated", output.simulated);
  return output;
}

}  // namespace

Output read_output(const Node& node, const std::string& where, Context& context) {
  static constexpr Kind kinds[]{{"link", "Modbus", known::modbus_output},
                                {"topic", "MQTT", known::mqtt_output}};
  const Kind* kind = kind_of_table(node, kinds, where, context.problems);
  if (!kind)
    return {};
  if (kind->key == "link")
    return {read_modbus_output(node, where, context)};
  return {read_mqtt_output(node, where, context)};
}

}  // namespace brinegate::config
