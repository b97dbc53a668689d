// SPDX-License-Identifier: Apache-2.0
// What home automation's documentation asks of a device's discovery message, as a small validator
// (home-assistant.io/integrations/mqtt and its developers' pages on entities, August 2026).
#pragma once

#include <map>
#include <regex>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include <nlohmann/json.hpp>

namespace brinegate::daemon {

// All that is wrong with it.
class DiscoveryRules {
 public:
  std::vector<std::string> complaints(const std::string& topic, const nlohmann::json& message) {
    need(std::regex_match(topic,
                          std::regex("[^/].*/device/([a-zA-Z0-9_-]+/)?[a-zA-Z0-9_-]+/config")),
         topic + " is no topic of a device's announcement");
    const auto device = message.value("dev", nlohmann::json::object());
    need(device.contains("ids") && device["ids"].is_array() && !device["ids"].empty(), "no ids");
    need(!device.value("name", "").empty(), "the device has no name");
    need(message.contains("o") && !message["o"].value("name", "").empty(), "no origin");
    check_availability(message, "the device");
    const auto components = message.value("cmps", nlohmann::json::object());
    need(!components.empty(), "no components");
    for (const auto& [key, component] : components.items())
      check_component(key, component, device.value("name", ""));
    return complaints_;
  }

 private:
  void need(bool holds, const std::string& otherwise) {
    if (!holds)
      complaints_.push_back(otherwise);
  }

  // Where there is more than one topic, the default would be the latest word of any.
  void check_availability(const nlohmann::json& of, const std::string& who) {
    need(of.contains("avty") && of["avty"].is_array() && !of["avty"].empty(),
         who + " has no availability");
    for (const auto& each : of.value("avty", nlohmann::json::array()))
      need(each.is_object() && !each.value("t", "").empty(), who + ": availability of no topic");
    need(of.value("avty_mode", "latest") == "all", who + ": not all of it must be there");
  }

  void check_component(const std::string& key, const nlohmann::json& component,
                       const std::string& device) {
    const std::string platform = component.value("p", "");
    need(std::regex_match(key, std::regex("[a-zA-Z0-9_-]+")), key + ": no id");
    need(!component.value("uniq_id", "").empty() && unique_.insert(component["uniq_id"]).second,
         key + ": no identity of its own");
    const std::string name = component.value("name", "");
    need(!name.empty() && name[0] >= 'A' && name[0] <= 'Z', key + ": no name with a capital");
    need(name.find(device) == std::string::npos, key + ": the name repeats the device's");
    if (component.contains("avty"))
      check_availability(component, key);
    if (platform == "sensor")
      check_sensor(key, component);
    else if (platform == "binary_sensor")
      check_class(key, component, {"", "problem", "running", "moisture", "connectivity"});
    else if (platform == "button")
      check_button(key, component);
    else
      complaints_.push_back(key + ": " + platform + " is none of ours");
    if (platform != "button")
      need(!component.value("stat_t", "").empty(), key + ": no topic");
  }

  void check_class(const std::string& key, const nlohmann::json& component,
                   const std::set<std::string>& known) {
    const std::string its = component.value("dev_cla", "");
    need(known.contains(its), key + ": no such class: " + its);
  }

  void check_sensor(const std::string& key, const nlohmann::json& component) {
    // Of each class the units that are accepted; of none, any text.
    const std::map<std::string, std::set<std::string>> units{
        {"conductivity", {"S/cm", "mS/cm", "µS/cm"}},
        {"temperature", {"°C", "°F", "K"}},
        {"volume_storage", {"L", "mL", "gal", "m³"}},
        {"volume_flow_rate", {"L/min", "L/h", "mL/s", "m³/h"}},
        {"enum", {""}}};
    const std::string its = component.value("dev_cla", "");
    const std::string unit = component.value("unit_of_meas", "");
    if (!its.empty())
      need(units.contains(its) && units.at(its).contains(unit),
           key + ": " + its + " is not in " + unit);
    const bool is_enum = its == "enum";
    need(is_enum == component.contains("ops"), key + ": options belong to an enum, and only there");
    need(!is_enum || !component.contains("stat_cla"), key + ": an enum is no measurement");
    need(unit.empty() || component.value("stat_cla", "") == "measurement",
         key + ": a unit of what is not measured");
    // A value must not outlive its source.
    need(!component.contains("stat_cla") || component.value("exp_aft", 0) > 0,
         key + ": it never expires");
  }

  void check_button(const std::string& key, const nlohmann::json& component) {
    need(!component.value("cmd_t", "").empty(), key + ": no topic to press on");
    need(!component.value("ret", false), key + ": a press would be retained");
    check_class(key, component, {"", "identify", "restart"});
  }

  std::vector<std::string> complaints_;
  std::set<std::string> unique_;
};

}  // namespace brinegate::daemon
