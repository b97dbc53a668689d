// SPDX-License-Identifier: Apache-2.0
#include "daemon/engine/discovery.h"

#include <algorithm>
#include <array>
#include <optional>
#include <utility>
#include <variant>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "config/words.h"
#include "daemon/engine/station_unit.h"

namespace brinegate::daemon {
namespace {

// How home automation sees something. Keys are part of the identity: never change one.
struct Seen {
  std::string_view key;
  std::string_view name;
  std::string_view device_class;  // empty: it knows no such class
  std::string_view unit;
};
// Of what a probe measures, in the order of Measures.
constexpr std::array seen_of_measures{
    Seen{"conductivity", "Conductivity", "conductivity", "mS/cm"},
    Seen{"compensated-conductivity", "Compensated conductivity", "conductivity", "mS/cm"},
    Seen{"salinity", "Salinity", "", "PSU"},
    Seen{"specific-gravity", "Specific gravity", "", ""},
    Seen{"temperature", "Temperature", "temperature", "°C"},
    Seen{"level", "Level", "volume_storage", "L"},
    Seen{"flow", "Flow", "volume_flow_rate", "L/min"},
    Seen{"tank-level", "Tank level", "volume_storage", "L"},
    Seen{"drain-flow", "Drain flow", "volume_flow_rate", "L/min"},
    Seen{"circulation", "Circulation", "running", ""},
    Seen{"pump", "Pump", "running", ""},
    Seen{"leak", "Leak", "moisture", ""},
    Seen{"reservoir-low", "Reservoir low", "problem", ""},
    Seen{"tank-high", "Tank full", "problem", ""},
    Seen{"held-off", "Top-off held off", "", ""},
    Seen{"drain", "Drain", "running", ""}};
static_assert(seen_of_measures.size() == static_cast<std::size_t>(Measures::DrainRunning) + 1);

constexpr int longest_state = 255;  // characters that home automation takes
constexpr int missed = 3;           // so many values are, before the last one expires

std::string site_topic(const std::string& site) {
  return "brinegate/" + site;
}

// While this topic says so. An empty template: it says "online" itself.
Json available_by(const std::string& topic, const std::string& value_template = "") {
  Json when = {{"t", topic}};
  if (!value_template.empty())
    when["val_tpl"] = value_template;
  return when;
}

Json class_and_unit(const Seen& seen, bool is_number) {
  Json kind = Json::object();
  if (is_number)
    kind["stat_cla"] = "measurement";
  if (!seen.device_class.empty())
    kind["dev_cla"] = seen.device_class;
  if (!seen.unit.empty())
    kind["unit_of_meas"] = seen.unit;
  return kind;
}

class Components {
 public:
  Components(const std::string& site, const config::Station& station)
      : site_(site_topic(site)), base_(site_ + "/" + station.spec.name), station_(station) {}

  Json all();

 private:
  void add(const std::string& key, std::string_view platform, std::string_view name,
           const Json& details);
  void add_what_is_decided();
  void add_value(const Seen& seen, bool (*rests_on)(Measures));
  void add_probe(std::size_t index);
  void add_buttons(const config::Pump& pump);
  void add_button(const std::string& key, const std::string& name, const Json& request);

  [[nodiscard]] std::string topic(std::string_view name) const {
    return fmt::format("{}/{}", base_, name);
  }
  // What is read from a topic, while the condition on its message says that it is good.
  [[nodiscard]] Json reading_of(const std::string& topic, const std::string& is_good,
                                Duration told_every) const;
  [[nodiscard]] Duration told_every(std::size_t probe) const;

  std::string site_;
  std::string base_;
  const config::Station& station_;
  Json components_ = Json::object();
};

Json Components::all() {
  add_what_is_decided();
  add_value({"salinity", "Salinity", "", "ppt"}, is_salinity_cell);
  add_value({"temperature", "Temperature", "temperature", "°C"},
            [](Measures m) { return m == Measures::Temperature; });
  add_value({"volume", "Volume", "volume_storage", "L"},
            [](Measures m) { return m == Measures::Level; });
  for (std::size_t i = 0; i < station_.spec.probes.size(); ++i)
    add_probe(i);
  if (station_.pump && station_.spec.pump->permit == PermitMode::PerChange)
    add_buttons(*station_.pump);
  return std::move(components_);
}

void Components::add(const std::string& key, std::string_view platform, std::string_view name,
                     const Json& details) {
  Json& component = components_[key];
  component = {{"p", platform}, {"uniq_id", topic(key)}, {"name", name}};
  component.update(details);
}

void Components::add_what_is_decided() {
  Json phases = Json::array();
  for (int i = 0; i <= static_cast<int>(BatchPhase::Drawing); ++i)
    phases.push_back(config::word(static_cast<BatchPhase>(i)));
  add("batch", "sensor", "Batch",
      {{"dev_cla", "enum"},
       {"ops", phases},
       {"stat_t", topic("state")},
       {"val_tpl", "{{ value_json.phase }}"}});
  if (station_.pump)
    add("gate", "sensor", "Gate",
        {{"dev_cla", "enum"},
         {"ops", Json::array({config::word(GateState::Shut), config::word(GateState::Open)})},
         {"stat_t", topic("gate")}});
  add("headline", "sensor", "Headline",
      {{"stat_t", topic("state")},
       {"val_tpl", fmt::format("{{{{ value_json.headline[:{}] }}}}", longest_state)}});
  add("alarm", "binary_sensor", "Alarm",
      {{"dev_cla", "problem"},
       {"stat_t", topic("state")},
       {"val_tpl", "{{ 'ON' if value_json.alarms else 'OFF' }}"},
       {"json_attr_t", topic("state")},
       {"json_attr_tpl",
        "{{ {'alarms': value_json.alarms | map(attribute='cause') | list} | tojson }}"}});
}

Json Components::reading_of(const std::string& topic, const std::string& is_good,
                            Duration told_every) const {
  return {{"stat_t", topic},
          {"avty",
           Json::array({available_by(site_ + "/status"),
                        available_by(topic, fmt::format("{{{{ 'online' if {} else 'offline' }}}}",
                                                        is_good))})},
          {"avty_mode", "all"},
          {"exp_aft", static_cast<int>(seconds(missed * told_every))}};
}

// What is seldom asked for stands still for so long; all else is told again at the engine's pace.
Duration Components::told_every(std::size_t probe) const {
  const auto* modbus = std::get_if<config::ModbusSource>(&station_.sources[probe]);
  return modbus != nullptr ? std::max(modbus->every, state_every) : state_every;
}

// A plain number on a topic of its own, empty where there is no good reading.
void Components::add_value(const Seen& seen, bool (*rests_on)(Measures)) {
  std::optional<Duration> slowest;
  for (std::size_t i = 0; i < station_.spec.probes.size(); ++i)
    if (rests_on(station_.spec.probes[i].measures))
      slowest = std::max(slowest.value_or(state_every), told_every(i));
  if (!slowest)
    return;
  const std::string key(seen.key);
  Json details = class_and_unit(seen, /*is_number=*/true);
  details["sug_dsp_prc"] = 2;
  details.update(reading_of(topic(key), "value", *slowest));
  add(key, "sensor", seen.name, details);
}

void Components::add_probe(std::size_t index) {
  const ProbeSpec& probe = station_.spec.probes[index];
  const Seen& seen = seen_of_measures[static_cast<std::size_t>(probe.measures)];
  const std::string key = fmt::format("{}-{}", seen.key, probe.name);
  const std::string name = fmt::format("{} {}", seen.name, probe.name);
  const std::string reading = fmt::format("value_json.readings['{}']", probe.name);
  const bool is_number = !is_contact(probe.measures);
  Json details = class_and_unit(seen, is_number);
  details.update(reading_of(topic("state"), reading + ".quality == 'good'", told_every(index)));
  if (is_number)
    details["val_tpl"] = fmt::format("{{{{ {}.value }}}}", reading);
  else
    details["val_tpl"] = fmt::format("{{{{ 'ON' if {}.value else 'OFF' }}}}", reading);
  if (is_number)
    details["ent_cat"] = "diagnostic";
  add(key, is_number ? "sensor" : "binary_sensor", name, details);
}

void Components::add_buttons(const config::Pump& pump) {
  add_button("stop", "Stop change", {{"do", "stop"}});
  if (pump.change_button) {
    const std::string litres = fmt::format("{} L", pump.change_button->value());
    add_button("change", "Ask for change of " + litres, {{"do", "change"}, {"volume", litres}});
  }
  add("answer", "sensor", "Answer",
      {{"ent_cat", "diagnostic"},
       {"stat_t", topic("reply")},
       {"val_tpl", fmt::format("{{{{ (([value_json.message | default('')] + value_json.reasons | "
                               "default([])) | join(' '))[:{}] }}}}",
                               longest_state)}});
}

// A request as everybody on the network may make it. Each press has an id of its own, or the second
// one would only repeat the first one's answer.
void Components::add_button(const std::string& key, const std::string& name, const Json& request) {
  Json press = {{"id", "button-{{ now().timestamp() }}"}};
  press.update(request);
  add(key, "button", name,
      {{"cmd_t", topic("request")}, {"cmd_tpl", dump(press)}, {"qos", 1}, {"ret", false}});
}

}  // namespace

std::string discovery_topic(const config::Mqtt& mqtt, const std::string& site,
                            const std::string& station) {
  return fmt::format("{}/device/brinegate-{}/{}/config", mqtt.discovery_prefix, site, station);
}

Json discovery(const std::string& site, const config::Station& station, std::string_view version) {
  const std::string& name = station.spec.name;
  return {{"dev",
           {{"ids", Json::array({fmt::format("{}/{}", site_topic(site), name)})},
            {"name", fmt::format("{} {}", site, name)},
            {"mf", "Brinegate"},
            {"mdl", "Station"},
            {"sw", version}}},
          {"o", {{"name", "Brinegate"}, {"sw", version}}},
          {"avty", Json::array({available_by(site_topic(site) + "/status")})},
          {"avty_mode", "all"},
          {"cmps", Components(site, station).all()}};
}

}  // namespace brinegate::daemon
