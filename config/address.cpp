// SPDX-License-Identifier: Apache-2.0
#include "config/address.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <optional>
#include <utility>

#include <fmt/format.h>

namespace brinegate::config {
namespace {

constexpr std::array<std::pair<std::string_view, Parity>, 3> parities{
    {{"none", Parity::None}, {"even", Parity::Even}, {"odd", Parity::Odd}}};

template <class Int>
bool parse_whole(std::string_view text, Int low, Int high, Int& target) {
  Int value{};
  const auto [end, failure] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (failure != std::errc() || end != text.data() + text.size() || value < low || value > high)
    return false;
  target = value;
  return true;
}

// What follows this beginning, if it begins so.
std::optional<std::string_view> after(std::string_view beginning, std::string_view text) {
  return text.starts_with(beginning) ? std::optional(text.substr(beginning.size())) : std::nullopt;
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
  const auto* const parity = std::find_if(parities.begin(), parities.end(),
                                          [&](const auto& word) { return word.first == value; });
  if (key != "parity" || parity == parities.end())
    return false;
  serial.parity = parity->second;
  return true;
}

Result<LineAddress> parse_serial_address(std::string_view text) {
  SerialAddress serial;
  const std::size_t question = std::min(text.find('?'), text.size());
  serial.device = text.substr(0, question);
  if (serial.device.size() < 2 || serial.device.front() != '/')
    return Error{
        "the serial device must be a full path: write for example "
        "\"modbus-rtu:///dev/ttyUSB0?baud=9600&parity=none\""};
  std::string_view settings = text.substr(std::min(question + 1, text.size()));
  while (!settings.empty()) {
    const std::size_t end = std::min(settings.find('&'), settings.size());
    const std::string_view setting = settings.substr(0, end);
    if (!parse_serial_setting(setting, serial))
      return Error{
          fmt::format("\"{}\" is not a serial setting: write baud=1200 to 115200, "
                      "parity=none, even or odd, stop=1 or 2, joined by '&'",
                      setting)};
    settings.remove_prefix(std::min(end + 1, settings.size()));
  }
  return LineAddress(std::move(serial));
}

}  // namespace

Result<LineAddress> parse_line_address(std::string_view text) {
  if (const auto serial = after("modbus-rtu://", text))
    return parse_serial_address(*serial);
  TcpAddress address;
  const auto tcp = after("modbus-tcp://", text);
  if (tcp && parse_host_and_port(*tcp, address.host, address.port))
    return LineAddress(std::move(address));
  return Error{
      fmt::format("\"{}\" is no address of a Modbus line: write \"modbus-tcp://HOST:502\" "
                  "or \"modbus-rtu:///dev/ttyUSB0?baud=9600&parity=none\"",
                  text)};
}

Result<std::string> parse_broker_address(std::string_view text) {
  constexpr std::array<std::pair<std::string_view, std::uint16_t>, 2> schemes{
      {{"mqtt://", 1883}, {"mqtts://", 8883}}};
  for (const auto& [scheme, usual_port] : schemes) {
    const auto rest = after(scheme, text);
    std::string host;
    std::uint16_t port = usual_port;
    if (!rest || !parse_host_and_port(*rest, host, port))
      continue;
    const bool is_v6 = host.find(':') != std::string::npos;
    return fmt::format("{}{}:{}", scheme, is_v6 ? "[" + host + "]" : host, port);
  }
  return Error{
      fmt::format("\"{}\" is no address of a broker: write \"mqtt://HOST:1883\" or "
                  "\"mqtts://HOST:8883\"",
                  text)};
}

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

}  // namespace brinegate::config
