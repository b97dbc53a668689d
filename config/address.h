// SPDX-License-Identifier: Apache-2.0
// Who is spoken to, as people write it: a Modbus line, a broker. Each error says what to write
// instead.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "config/model.h"
#include "rules/result.h"

namespace brinegate::config {

using LineAddress = decltype(Link::address);

// modbus-tcp://HOST:PORT, or modbus-rtu:///DEVICE?baud=9600&parity=none&stop=1.
Result<LineAddress> parse_line_address(std::string_view text);

// mqtt://HOST:PORT or mqtts://HOST:PORT; comes back with its port.
Result<std::string> parse_broker_address(std::string_view text);

// host:port, [v6]:port, or a host alone where `port` holds a default.
bool parse_host_and_port(std::string_view text, std::string& host, std::uint16_t& port);

}  // namespace brinegate::config
