// SPDX-License-Identifier: Apache-2.0
// One Modbus line as its thread sees it: blocking requests on libmodbus, and the rule by which a
// late or foreign answer is never taken for the present request's. One bus, one context, one
// thread.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <vector>

#include "config/model.h"
#include "rules/reading.h"
#include "rules/result.h"
#include "rules/time.h"

namespace brinegate::drivers {

// After any failure but an exception answer the bus is out of step: an answer may still be under
// way, and it would pass for the answer to the next request.
// TCP: the connection is dropped, with it everything under way in both directions.
// RTU: nothing tells an old answer from a new one but slave, function and length, and reopening the
// port does not help. So resynchronise() waits until the line was silent for twice the response
// timeout, longer after repeated failures, and discards what came. Even then the first good answer
// is accepted only after the line stayed silent for one more timeout: were it a late one, the
// answer really asked for would follow within that time. Reading twice in agreement would prove
// nothing (two late answers agree) and refuse honest noise. What is left: a device that answers
// later than three timeouts; the timeout in the configuration must exceed its slowest answer.
class ModbusBus {
 public:
  using Words = Result<std::vector<std::uint16_t>, SampleFault>;  // bits come as 0 and 1

  explicit ModbusBus(const config::Link& link);
  ~ModbusBus();
  ModbusBus(const ModbusBus&) = delete;
  ModbusBus& operator=(const ModbusBus&) = delete;

  // False: errno says why, EWOULDBLOCK where another program of ours holds the serial device.
  bool connect();
  void disconnect();
  [[nodiscard]] bool connected() const { return connected_; }
  [[nodiscard]] bool out_of_step() const { return out_of_step_; }
  // True once the present connection has given a good answer.
  [[nodiscard]] bool answered() const { return answered_; }

  // The code of the latest exception answer; 0: there was none.
  [[nodiscard]] int last_exception() const { return last_exception_; }

  // RTU: listens the line out. False: interrupted, the device is gone, or the line never falls
  // silent; the bus stays out of step.
  bool resynchronise(const std::function<bool()>& interrupted);

  Words read(std::uint8_t unit, config::ModbusTable table, std::uint16_t address,
             std::uint16_t count);
  // None: the device answered. That proves neither the value nor the address: read it back.
  SampleFault write_coil(std::uint8_t unit, std::uint16_t address, bool on);
  SampleFault write_register(std::uint8_t unit, std::uint16_t address, std::uint16_t value);

 private:
  class Context;

  SampleFault prepare(std::uint8_t unit);
  SampleFault finish(bool answered);
  SampleFault fail(int error);
  bool discard_input(Duration silent_for, Duration at_most, const std::function<bool()>& stop);
  [[nodiscard]] bool stays_silent(Duration duration) const;
  void keep_frame_gap() const;

  config::Link link_;
  bool serial_;
  Duration frame_gap_{0};
  std::unique_ptr<Context> context_;
  bool connected_ = false;
  bool out_of_step_ = false;
  bool unconfirmed_ = false;  // RTU: the next good answer is the first one after a failure
  bool answered_ = false;
  int failures_ = 0;      // since the last run of good answers
  int good_answers_ = 0;  // in a row
  int last_exception_ = 0;
  MonoTime last_traffic_;
};

}  // namespace brinegate::drivers
