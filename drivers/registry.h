// SPDX-License-Identifier: Apache-2.0
// Every driver that a site needs, and which of them drives which output.
#pragma once

#include <map>
#include <memory>
#include <optional>
#include <vector>

#include "config/model.h"
#include "drivers/driver.h"
#include "drivers/mqtt_session.h"

namespace brinegate::drivers {

struct Drivers {
  std::vector<std::unique_ptr<Driver>> lines_and_processes;
  std::unique_ptr<MqttSession> mqtt;  // only where the site has a broker
  std::map<OutputKey, Driver*> by_output;

  void open();
  // States the wanted output to the driver that has it; an output that the site does not have is
  // ignored.
  void drive(OutputKey output, std::optional<MonoTime> on_until);
  // All at the same time: each within its own time-out.
  void close();
};

// Opens nothing yet. The sink and the callbacks must outlive the drivers.
Drivers build_drivers(const config::Site& site, Sink& sink, MqttCallbacks callbacks);

}  // namespace brinegate::drivers
