// SPDX-License-Identifier: Apache-2.0
// The driver of one Modbus line: reads its sources in turn and drives its outputs, writes first,
// on a thread of its own because libmodbus blocks. A line that is blocked delays no other.
#pragma once

#include <condition_variable>
#include <memory>
#include <mutex>
#include <thread>
#include <vector>

#include "config/model.h"
#include "drivers/backoff.h"
#include "drivers/driver.h"
#include "drivers/output_intent.h"
#include "drivers/poll_schedule.h"
#include "rules/result.h"

namespace brinegate::drivers {

class ModbusBus;

struct ModbusProbe {
  ProbeKey key;
  config::ModbusSource source;
};

struct ModbusSwitch {
  OutputKey key;
  config::ModbusOutput output;
};

class ModbusLine final : public Driver {
 public:
  ModbusLine(config::Link link, std::vector<ModbusProbe> probes, std::vector<ModbusSwitch> switches,
             Sink& sink);
  ModbusLine(const ModbusLine&) = delete;
  ModbusLine& operator=(const ModbusLine&) = delete;
  ~ModbusLine() override;

  void open() override;
  void drive(OutputKey output, std::optional<MonoTime> on_until) override;
  // Returns after the outputs were confirmed off, or after a few timeouts without an answer. A host
  // name that does not resolve can hold it up for as long as the resolver takes.
  void close() override;

 private:
  struct Switched {
    ModbusSwitch spec;
    OutputIntent intent;
    std::uint64_t blind_off_of = ~std::uint64_t{0};  // the statement already sent without proof
    MonoTime surely_on_until = MonoTime::min();      // by the "on" that was confirmed last
  };

  void run();
  bool turn();
  void bring_into_step();
  void connect_when_due(MonoTime now);
  void switch_off_without_proof();
  void drive_outputs();
  OutputIntent::Step take_step(Switched& output);
  struct Outcome {
    SampleFault fault = SampleFault::None;
    bool taken_over = false;
  };
  Outcome carry_out(Switched& output, const OutputIntent::Step& step);
  Outcome renew_on(Switched& output, MonoTime until);
  SampleFault switch_on(const config::ModbusOutput& output, MonoTime until);
  SampleFault switch_off(const config::ModbusOutput& output);
  SampleFault expect_coil(const config::ModbusOutput& output, bool on);
  Result<bool, SampleFault> read_coil(const config::ModbusOutput& output);
  void serve_due_source();
  void serve(std::size_t probe, SampleFault resting);
  void deliver(ProbeKey key, double value, SampleFault fault);
  void wait_for_work();
  void switch_everything_off();
  bool everything_off();
  bool off_is_waiting();
  bool stopping();

  config::Link link_;
  std::vector<ModbusProbe> probes_;
  Sink& sink_;

  // Only the line's thread touches these.
  std::unique_ptr<ModbusBus> bus_;
  PollSchedule schedule_;
  Backoff reconnect_;
  MonoTime connect_at_ = MonoTime::min();
  SampleFault down_because_ = SampleFault::NotConnected;

  std::mutex mutex_;  // guards what follows
  std::condition_variable changed_;
  std::vector<Switched> outputs_;
  bool stop_ = false;

  std::thread thread_;
};

}  // namespace brinegate::drivers
