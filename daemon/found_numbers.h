// SPDX-License-Identifier: Apache-2.0
// The numbers that were found on a line or a broker, each as it stands on the wire beside what it
// may mean. Pure. What looks like a conductivity need not be one: two points tell (S22).
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "config/model.h"
#include "drivers/modbus_scan.h"
#include "drivers/mqtt_listener.h"
#include "rules/probe.h"

namespace brinegate::daemon {

// A register may hold several: one for each way of decoding it.
struct FoundNumber {
  std::string where;  // "unit 1 input 0 float32 ABCD", "cellar/bath /temperature_c"
  std::string raw;    // "4254 428F"; the payload
  std::string keys;   // of a source in the configuration, without its unit and scale
  std::optional<config::ModbusEncoding> encoding;  // none: it came as text
  double value = 0.0;
};

// `link`: its name in the configuration.
std::vector<FoundNumber> numbers_of(const drivers::FoundUnit& unit, std::string_view link);
std::vector<FoundNumber> numbers_of(const drivers::HeardTopic& heard);

// A number taken for a quantity: scale * number, in this unit.
struct Meaning {
  Measures measures = Measures::Conductivity;
  double scale = 1.0;
  std::string_view in;  // empty: of a level, whose unit no number tells
  double value = 0.0;
};

// What a probe in a mixing reservoir may mean by it: conductivity, temperature, salinity, level.
std::vector<Meaning> meanings_of(const FoundNumber& number);

// "{ link = "line", unit = 1, input = 0, as = "float32", order = "ABCD", in = "mS/cm" }".
std::string source_of(const FoundNumber& number, const Meaning& meaning);

// A text as TOML has it, in quotation marks.
std::string toml_text(std::string_view text);

}  // namespace brinegate::daemon
