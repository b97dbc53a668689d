// SPDX-License-Identifier: Apache-2.0
#include "config/model.h"

namespace brinegate::config {

bool Output::lapses_by_itself() const {
  if (const auto* modbus = std::get_if<ModbusOutput>(&address))
    return modbus->timed.has_value();
  return std::get<MqttOutput>(address).on.find("{seconds}") != std::string::npos;
}

bool Output::simulated() const {
  return std::visit([](const auto& output) { return output.simulated; }, address);
}

}  // namespace brinegate::config
