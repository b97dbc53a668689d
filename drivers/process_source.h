// SPDX-License-Identifier: Apache-2.0
// The driver of one probe read by a child process, which prints one JSON reading a line:
//   {"value": 53.1, "time": "2031-05-04T07:08:09Z", "simulated": false}
// "time" and "simulated" may be left out. The child's end, whatever the reason, is a bad reading
// and a restart, never the daemon's end.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <thread>

#include <sys/types.h>

#include "config/model.h"
#include "drivers/backoff.h"
#include "drivers/driver.h"
#include "drivers/line_reader.h"
#include "drivers/reading_json.h"

namespace brinegate::drivers {

struct ProcessTiming {
  Duration first_restart = std::chrono::seconds(1);
  Duration longest_restart = std::chrono::seconds(30);
  Duration proven_after = std::chrono::seconds(10);  // lived this long: the delay starts afresh
  Duration patience = std::chrono::seconds(1);       // between SIGTERM and SIGKILL
};

class ProcessSource final : public Driver {
 public:
  ProcessSource(ProbeKey probe, config::ProcessSource source, bool contact, Sink& sink,
                ProcessTiming timing = {});
  ProcessSource(const ProcessSource&) = delete;
  ProcessSource& operator=(const ProcessSource&) = delete;
  ~ProcessSource() override;

  void open() override;
  void drive(OutputKey output, std::optional<MonoTime> on_until) override;  // has no outputs
  void close() override;

 private:
  struct Child;

  void run();
  bool start(Child& child);
  void read_lines(const Child& child);
  void take(std::optional<std::string_view> line);
  void end(Child& child) const;
  bool stop_within(Duration duration) const;
  void deliver_fault(SampleFault fault);

  ProbeKey probe_;
  config::ProcessSource source_;
  ReadingShape shape_;
  Sink& sink_;
  ProcessTiming timing_;
  LineReader lines_;
  int stop_descriptor_ = -1;  // an eventfd: readable once close() was called
  std::thread thread_;
};

}  // namespace brinegate::drivers
