// SPDX-License-Identifier: Apache-2.0
// Sections [mqtt] and [link.NAME]: who is spoken to, and how.
#include <algorithm>
#include <string_view>

#include <fmt/format.h>

#include "config/address.h"
#include "config/load_sections.h"
#include "config/nearest.h"
#include "config/quantity.h"

namespace brinegate::config {
namespace {

void read_address(TableReader& reader, Link& link) {
  std::string text;
  if (!reader.read("address", text))
    return;
  const auto address = parse_line_address(text);
  if (!address)
    return reader.error("address", "'address': " + address.error().message);
  link.address = *address;
}

bool same_line(const Link& a, const Link& b) {
  if (a.address.index() != b.address.index())
    return false;
  if (const auto* tcp = std::get_if<TcpAddress>(&a.address)) {
    const auto& other = std::get<TcpAddress>(b.address);
    return !tcp->host.empty() && tcp->host == other.host && tcp->port == other.port;
  }
  return std::get<SerialAddress>(a.address).device == std::get<SerialAddress>(b.address).device;
}

void read_broker(TableReader& reader, Mqtt& mqtt) {
  std::string text;
  if (!reader.read("broker", text))
    return;
  const auto broker = parse_broker_address(text);
  if (!broker)
    return reader.error("broker", "'broker': " + broker.error().message);
  mqtt.broker = *broker;
}

bool read_plain_topic(TableReader& reader, std::string_view key, std::string& topic) {
  std::string text;
  if (!reader.read(key, text))
    return false;
  constexpr std::size_t longest = 1024;
  const bool usable =
      text.size() <= longest && text.find_first_of(std::string_view("+#\0", 3)) == text.npos;
  if (usable)
    topic = text;
  else
    reader.error(key, fmt::format("'{}': \"{}\" cannot be used: write one topic of up to {} bytes, "
                                  "without the wildcards '+' and '#'",
                                  key, text.substr(0, 80), longest));
  return usable;
}

void read_discovery(TableReader& reader, Mqtt& mqtt) {
  reader.read("discovery", mqtt.discovery);
  std::string prefix;
  if (read_plain_topic(reader, "discovery_prefix", prefix)) {
    if (prefix.front() != '/' && prefix.back() != '/')
      mqtt.discovery_prefix = prefix;
    else
      reader.error("discovery_prefix",
                   fmt::format("'discovery_prefix': \"{}\" begins or ends with a slash: write "
                               "\"homeassistant\", or as home automation is set",
                               prefix));
  }
  read_plain_topic(reader, "birth_topic", mqtt.birth_topic);
  reader.read("birth_payload", mqtt.birth_payload);
}

}  // namespace

Mqtt read_mqtt(const Node& node, Context& context) {
  TableReader reader(node, known::mqtt, "mqtt", context.problems);
  Mqtt mqtt;
  read_broker(reader, mqtt);
  reader.read("username", mqtt.username);
  read_file_name(reader, "password_file", mqtt.password_file, context);
  report_secret_file("password file", mqtt.password_file, reader.at("password_file"),
                     context.problems);
  if (reader.has("password_file") && !reader.has("username"))
    reader.error("password_file",
                 "'password_file' without 'username': a broker takes no password alone; write "
                 "username = \"...\" too");
  read_file_name(reader, "ca_file", mqtt.ca_file, context);
  if (reader.has("ca_file") && !mqtt.broker.starts_with("mqtts://"))
    reader.error("ca_file",
                 "'ca_file' without TLS: nobody vouches for a broker that is spoken to openly; "
                 "write broker = \"mqtts://...\"");
  read_discovery(reader, mqtt);
  return mqtt;
}

Link read_link(const std::string& name, const Node& node, Context& context) {
  TableReader reader(node, known::link, "link." + name, context.problems);
  Link link;
  link.name = name;
  read_address(reader, link);
  reader.read("timeout", parse_duration, {"20 ms", "5 s"}, link.timeout);
  reader.read("simulated", link.simulated);
  for (const Link& other : context.links)
    if (same_line(link, other))
      reader.error("address",
                   fmt::format("'address' is that of link.{} already: two links would talk over "
                               "each other; use link = \"{}\" for both",
                               other.name, other.name));
  return link;
}

const Link* find_link(TableReader& reader, Context& context) {
  std::string name;
  if (!reader.read("link", name))
    return nullptr;
  for (const Link& link : context.links)
    if (link.name == name)
      return &link;
  reader.error(
      "link", fmt::format("there is no [link.{}]: {}", name, suggestion(name, context.link_names)));
  return nullptr;
}

bool read_topic(TableReader& reader, Context& context, std::string& topic) {
  if (!context.has_mqtt)
    reader.error("topic", "'topic' needs a broker: add [mqtt] with broker = \"mqtt://HOST:1883\"");
  return read_plain_topic(reader, "topic", topic);
}

}  // namespace brinegate::config
