// SPDX-License-Identifier: Apache-2.0
// What a driver is: it opens, delivers raw samples and closed-list faults, drives outputs, closes.
// Scaling, plausibility, staleness and back-off decisions belong to the core; a driver never
// decides, never logs, never exits. Drivers own their thread or run on the shell's io_context; the
// sink may be called from any thread and only queues.
#pragma once

#include <cstddef>
#include <optional>
#include <string>

#include "rules/reading.h"
#include "rules/time.h"

namespace brinegate::drivers {

struct ProbeKey {
  std::size_t station = 0;  // index into Site::stations
  std::size_t probe = 0;    // index into Station::probes
  auto operator<=>(const ProbeKey&) const = default;
};

enum class OutputRole { Pump, SecondCutoff, HoldOff, Drain };

struct OutputKey {
  std::size_t station = 0;
  OutputRole role = OutputRole::Pump;
  auto operator<=>(const OutputKey&) const = default;
};

// What became of the latest drive(): the device confirmed it, or a fault. Told again each time an
// "off" is looked at again, so that who hears nothing knows that the output is deaf.
struct OutputReport {
  OutputKey output;
  bool on = false;                           // what was asked
  SampleFault fault = SampleFault::Timeout;  // None: confirmed by the device
  bool taken_over = false;  // the device was found not as it was confirmed to be: another master
};

class Sink {
 public:
  virtual ~Sink() = default;
  virtual void deliver(ProbeKey probe, const Sample& sample) = 0;
  virtual void report(const OutputReport& report) = 0;
};

class Driver {
 public:
  virtual ~Driver() = default;
  // Starts delivering. Never blocks and never fails: a peer that is not there is a fault sample.
  virtual void open() = 0;
  // States the wanted output: on until that time and no longer, or off. Called again at each
  // renewal; the latest call wins, an "on" that could not be sent before its end is dropped.
  virtual void drive(OutputKey output, std::optional<MonoTime> on_until) = 0;
  // Drives every output off as far as it can within its time-out, then ends.
  virtual void close() = 0;
};

}  // namespace brinegate::drivers
