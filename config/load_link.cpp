// SPDX-License-Identifier: Apache-2.0
// Sections [mqtt] and [link.NAME]: who is spoken to, and how.
#include <algorithm>
#include <array>
#include <charconv>
#include <string_view>

#include <fmt/format.h>

#include "config/load_sections.h"
#include "config/nearest.h"
#include "config/quantity.h"

namespace brinegate::config {
namespace {

constexpr std::string_view secure = "mqtts://";

constexpr Word<Parity> parities[]{
    {"none", Parity::None}, {"even", Parity::Even}, {"odd", Parity::Odd}};

template <class Int>
bool parse_whole(std::string_view text, Int low, Int high, Int& target) {
  Int value{};
  const auto [end, failure] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (failure != std::errc() || end != text.data() + text.size() || value < low || value > high)
    return false;
  target = value;
  return true;
}

bool starts_with(std::string_view text, std::string_view start) {
  return text.substr(0, start.size()) == start;
}

// One "baud=9600" of a serial address.
bool parse_serial_setting(std::string_view setting, SerialAddress& serial) {
  const std::size_t equals = setting.find('=');
  if (equals == std::string_view::npos)
    return false;
  const std::string_view key = setting.substr(0, equals);
  const std::string_view value = setting.substr(equals + 1);
  if (key == "baud") {
    constexpr std::array rates{1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200};
    return parse_whole(value, rates.front(), rates.back(), serial.baud) &&
           std::find(rates.begin(), rates.end(), serial.baud) != rates.end();
  }
  if (key == "stop")
    return parse_whole(value, 1, 2, serial.stop_bits);
  if (key != "parity")
    return false;
  for (const auto& parity : parities) {
    if (parity.word == value) {
      serial.parity = parity.value;
      return true;
    }
  }
  return false;
}

void read_serial_address(TableReader& reader, std::string_view rest, Link& link) {
  SerialAddress serial;
  const std::size_t question = rest.find('?');
  serial.device = rest.substr(0, question);
  if (serial.device.size() < 2 || serial.device.front() != '/')
    reader.error("address",
                 "'address': the serial device must be a full path: write for example "
                 "\"modbus-rtu:///dev/ttyUSB0?baud=9600&parity=none\"");
  std::string_view settings =
      question == std::string_view::npos ? std::string_view() : rest.substr(question + 1);
  while (!settings.empty()) {
    const std::size_t end = std::min(settings.find('&'), settings.size());
    const std::string_view setting = settings.substr(0, end);
    if (!parse_serial_setting(setting, serial))
      reader.error("address",
                   fmt::format("'address': \"{}\" is not a serial setting: write baud=1200 to "
                               "115200, parity=none, even or odd, stop=1 or 2, joined by '&'",
                               setting));
    settings.remove_prefix(std::min(end + 1, settings.size()));
  }
  link.address = serial;
}

void read_address(TableReader& reader, Link& link) {
  std::string text;
  if (!reader.read("address", text))
    return;
  constexpr std::string_view tcp = "modbus-tcp://";
  constexpr std::string_view rtu = "modbus-rtu://";
  if (starts_with(text, rtu))
    return read_serial_address(reader, std::string_view(text).substr(rtu.size()), link);
  TcpAddress address;
  if (starts_with(text, tcp) &&
      parse_host_and_port(std::string_view(text).substr(tcp.size()), address.host, address.port)) {
    link.address = address;
    return;
  }
  reader.error("address", fmt::format("'address': \"{}\" is no address of a Modbus line: write "
                                      "\"modbus-tcp://HOST:502\" or "
                                      "\"modbus-rtu:///dev/ttyUSB0?baud=9600&parity=none\"",
                                      text));
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
  constexpr std::string_view plain = "mqtt://";
  const bool is_secure = starts_with(text, secure);
  std::string host;
  std::uint16_t port = is_secure ? 8883 : 1883;
  if ((is_secure || starts_with(text, plain)) &&
      parse_host_and_port(std::string_view(text).substr(is_secure ? secure.size() : plain.size()),
                          host, port)) {
    const bool is_v6 = host.find(':') != std::string::npos;
    mqtt.broker =
        fmt::format("{}{}:{}", is_secure ? secure : plain, is_v6 ? "[" + host + "]" : host, port);
    return;
  }
  reader.error("broker", fmt::format("'broker': \"{}\" is no address of a broker: write "
                                     "\"mqtt://HOST:1883\" or \"mqtts://HOST:8883\"",
                                     text));
}

}  // namespace

bool parse_host_and_port(std::string_view text, std::string& host, std::uint16_t& port) {
  constexpr std::string_view forbidden = "/?#@ \t";
  const std::size_t bracket = text.find(']');
  const std::size_t colon = text.find(':', bracket == std::string_view::npos ? 0 : bracket);
  const std::string_view name = text.substr(0, colon);
  if (name.empty() || name.find_first_of(forbidden) != std::string_view::npos)
    return false;
  if (colon != std::string_view::npos &&
      !parse_whole<std::uint16_t>(text.substr(colon + 1), 1, 65535, port))
    return false;
  host = name.front() == '[' && name.back() == ']' ? name.substr(1, name.size() - 2) : name;
  return !host.empty();
}

Mqtt read_mqtt(const Node& node, Context& context) {
  TableReader reader(node, known::mqtt, "mqtt", context.problems);
  Mqtt mqtt;
  read_broker(reader, mqtt);
  reader.read("username", mqtt.username);
  if (reader.read("password_file", mqtt.password_file))
    mqtt.password_file = (context.folder / mqtt.password_file).string();
  report_secret_file("password file", mqtt.password_file, reader.at("password_file"),
                     context.problems);
  if (reader.has("password_file") && !reader.has("username"))
    reader.error("password_file",
                 "'password_file' without 'username': a broker takes no password alone; write "
                 "username = \"...\" too");
  if (reader.read("ca_file", mqtt.ca_file))
    mqtt.ca_file = (context.folder / mqtt.ca_file).string();
  if (reader.has("ca_file") && !starts_with(mqtt.broker, secure))
    reader.error("ca_file",
                 "'ca_file' without TLS: nobody vouches for a broker that is spoken to openly; "
                 "write broker = \"mqtts://...\"");
  reader.read("discovery", mqtt.discovery);
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
  if (!reader.read("topic", topic))
    return false;
  constexpr std::size_t longest = 1024;
  if (topic.size() <= longest && topic.find_first_of(std::string_view("+#\0", 3)) == topic.npos)
    return true;
  reader.error("topic",
               fmt::format("'topic': \"{}\" cannot be used: write one topic of up to {} bytes, "
                           "without the wildcards '+' and '#'",
                           topic.substr(0, 80), longest));
  return false;
}

}  // namespace brinegate::config
