// SPDX-License-Identifier: Apache-2.0
// All that makes a probe's number mean what it means, as one line: where it comes from, how it is
// encoded and converted, what it measures. Compared by rules/ as it is; readable in the record.
#include <string>
#include <variant>

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "config/load_sections.h"
#include "config/measured.h"

namespace brinegate::config {
namespace {

std::string address_of(const std::string& name, const std::vector<Link>& links) {
  for (const Link& link : links) {
    if (link.name != name)
      continue;
    if (const auto* tcp = std::get_if<TcpAddress>(&link.address))
      return fmt::format("{}:{}", tcp->host, tcp->port);
    return std::get<SerialAddress>(link.address).device;
  }
  return name;
}

struct SourceWords {
  const std::vector<Link>& links;

  std::string operator()(const ModbusSource& s) const {
    return fmt::format("{} unit {} table {} address {} encoding {} order {}",
                       address_of(s.link, links), s.unit, static_cast<int>(s.table), s.address,
                       static_cast<int>(s.encoding), static_cast<int>(s.order));
  }
  std::string operator()(const MqttSource& s) const {
    return fmt::format("topic {} pointer {}", s.topic, s.pointer);
  }
  std::string operator()(const ProcessSource& s) const {
    return fmt::format("command {}", fmt::join(s.command, " "));
  }
};

std::string conversion_words(const ProbeSpec& probe) {
  std::string text = fmt::format("x {} + {}", probe.conversion.scale, probe.conversion.offset);
  for (const auto& [from, to] : probe.conversion.table)
    text += fmt::format(" {}:{}", from, to);
  if (probe.measures == Measures::CompensatedConductivity)
    text += fmt::format(" compensated {} {}", probe.compensation.reference.value(),
                        probe.compensation.alpha_per_celsius);
  if (probe.measures == Measures::SpecificGravity)
    text += fmt::format(" gravity {}/{}", probe.gravity.sample.value(),
                        probe.gravity.reference.value());
  return text;
}

}  // namespace

void note_map_entries(Station& station, const std::vector<Link>& links) {
  auto& probes = station.spec.probes;
  for (std::size_t i = 0; i < probes.size(); ++i) {
    ProbeSpec& probe = probes[i];
    probe.on_register_map = std::holds_alternative<ModbusSource>(station.sources[i]);
    probe.map_entry =
        fmt::format("{} from {} {}", word_for(probe.measures),
                    std::visit(SourceWords{links}, station.sources[i]), conversion_words(probe));
    if (probe.temperature_from)
      probe.map_entry += fmt::format(" with {}", probes[*probe.temperature_from].name);
  }
}

}  // namespace brinegate::config
