// SPDX-License-Identifier: Apache-2.0
#include "drivers/registry.h"

#include <thread>
#include <utility>

#include "drivers/modbus_line.h"
#include "drivers/process_source.h"
#include "drivers/station_outputs.h"

namespace brinegate::drivers {

namespace {

template <class... Cases>
struct Overloaded : Cases... {
  using Cases::operator()...;
};
template <class... Cases>
Overloaded(Cases...) -> Overloaded<Cases...>;

// The addresses of a site, sorted by the driver that serves them.
class Plan {
 public:
  explicit Plan(const config::Site& site) {
    for (std::size_t i = 0; i < site.stations.size(); ++i) {
      const config::Station& station = site.stations[i];
      for (std::size_t j = 0; j < station.sources.size(); ++j) {
        add_source({i, j}, station.sources[j], is_contact(station.spec.probes[j].measures));
      }
      for (const StationOutput& each : outputs_of(station)) {
        add_output({i, each.role}, *each.output);
      }
    }
  }

  struct Process {
    ProbeKey key;
    config::ProcessSource source;
    bool contact = false;
  };
  std::map<std::string, std::vector<ModbusProbe>> modbus_probes;  // by link
  std::map<std::string, std::vector<ModbusSwitch>> modbus_switches;
  std::vector<MqttProbe> mqtt_probes;
  std::vector<MqttSwitch> mqtt_switches;
  std::vector<Process> processes;

 private:
  void add_source(ProbeKey key, const config::SourceAddress& address, bool contact) {
    std::visit(Overloaded{[&](const config::ModbusSource& source) {
                            modbus_probes[source.link].push_back({key, source});
                          },
                          [&](const config::MqttSource& source) {
                            mqtt_probes.push_back({key, source, contact});
                          },
                          [&](const config::ProcessSource& source) {
                            processes.push_back({key, source, contact});
                          }},
               address);
  }
  void add_output(OutputKey key, const config::Output& output) {
    std::visit(Overloaded{[&](const config::ModbusOutput& modbus) {
                            modbus_switches[modbus.link].push_back({key, modbus});
                          },
                          [&](const config::MqttOutput& mqtt) {
                            mqtt_switches.push_back({key, mqtt});
                          }},
               output.address);
  }
};

}  // namespace

Drivers build_drivers(const config::Site& site, Sink& sink, MqttCallbacks callbacks) {
  Plan plan(site);
  Drivers drivers;
  for (const config::Link& link : site.links) {
    const auto& switches = plan.modbus_switches[link.name];
    auto line = std::make_unique<ModbusLine>(link, plan.modbus_probes[link.name], switches, sink);
    for (const ModbusSwitch& output : switches) {
      drivers.by_output[output.key] = line.get();
    }
    drivers.lines_and_processes.push_back(std::move(line));
  }
  for (Plan::Process& process : plan.processes) {
    drivers.lines_and_processes.push_back(std::make_unique<ProcessSource>(
        process.key, std::move(process.source), process.contact, sink));
  }
  if (site.mqtt) {
    drivers.mqtt = std::make_unique<MqttSession>(*site.mqtt, site.name, plan.mqtt_probes,
                                                 plan.mqtt_switches, sink, std::move(callbacks));
    for (const MqttSwitch& output : plan.mqtt_switches) {
      drivers.by_output[output.key] = drivers.mqtt.get();
    }
  }
  return drivers;
}

void Drivers::open() {
  for (const auto& driver : lines_and_processes) {
    driver->open();
  }
  if (mqtt) {
    mqtt->open();
  }
}

void Drivers::drive(OutputKey output, std::optional<MonoTime> on_until) {
  const auto found = by_output.find(output);
  if (found != by_output.end()) {
    found->second->drive(output, on_until);
  }
}

void Drivers::close() {
  std::vector<std::thread> closing;
  for (const auto& driver : lines_and_processes) {
    closing.emplace_back([&driver] { driver->close(); });
  }
  if (mqtt) {
    mqtt->close();
  }
  for (std::thread& thread : closing) {
    thread.join();
  }
}

}  // namespace brinegate::drivers
