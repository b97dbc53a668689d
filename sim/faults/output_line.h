// SPDX-License-Identifier: Apache-2.0
// The line from the daemon to the relay board, in virtual time: what the Modbus driver does with
// each output, by the driver's very own state machine. It lives and dies with the process; the
// relay does not.
#pragma once

#include <optional>
#include <utility>
#include <vector>

#include "drivers/driver.h"
#include "drivers/output_intent.h"
#include "rules/time.h"
#include "sim/device_models.h"

namespace brinegate::sim {

// How a written word fares on its way.
enum class Delivery { Lost, AnswerLost, Done };

class OutputLine {
 public:
  explicit OutputLine(bool has_cutoff);

  void drive(drivers::OutputKey output, std::optional<MonoTime> on_until, MonoTime now);
  // Does what is due; `delivery` is how a word fares in this instant.
  std::vector<drivers::OutputReport> work(RelayBoard& relay, Delivery delivery, MonoTime now);
  // Every output off, as far as can be.
  void close(RelayBoard& relay, Delivery delivery, MonoTime now);

  // The pump's output, confirmed off, was found switched on by somebody else since the last call.
  bool take_foreign_on() { return std::exchange(found_foreign_on_, false); }

 private:
  struct Switched {
    drivers::OutputRole role;
    drivers::OutputIntent intent{drivers::OutputTiming{}};
  };
  void carry_out(Switched& output, RelayBoard& relay, Delivery delivery, MonoTime now,
                 std::vector<drivers::OutputReport>& reports);

  std::vector<Switched> outputs_;
  bool found_foreign_on_ = false;
};

}  // namespace brinegate::sim
