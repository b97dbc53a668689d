// SPDX-License-Identifier: Apache-2.0
// `brinegate find`: what answers on a Modbus line, what is said on a broker, raw beside decoded.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "config/model.h"
#include "daemon/command_line.h"
#include "drivers/modbus_scan.h"
#include "drivers/mqtt_listener.h"

namespace brinegate::daemon {

Command find_devices_command();

// Both block, say on the error stream how long they take and what went wrong, and print nothing
// else. `address`: as it was written.
std::optional<std::vector<drivers::FoundUnit>> scan_line(const config::Link& link,
                                                         std::string_view address,
                                                         const drivers::ScanRange& range,
                                                         Console& console);
std::optional<drivers::Heard> listen_to_broker(const config::Mqtt& mqtt, const std::string& filter,
                                               Duration duration, Console& console);

// What was found, for people.
std::string found_text(const drivers::FoundUnit& unit);
std::string found_text(const drivers::HeardTopic& heard, Duration listened);

// "1-32": the first and the last.
struct Span {
  int first = 0;
  int last = 0;
};
Result<Span> parse_unit_span(std::string_view text);  // within 1 to 247

}  // namespace brinegate::daemon
