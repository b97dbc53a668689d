// SPDX-License-Identifier: Apache-2.0
// What one output is wanted to be and what is still to be done about it. Pure: time is an argument.
// The latest statement wins, an "on" past its end is never executed but turns into "off", and "off"
// is repeated until the device confirms it and verified ever after.
#pragma once

#include <cstdint>
#include <optional>

#include "drivers/backoff.h"
#include "rules/time.h"

namespace brinegate::drivers {

struct OutputTiming {
  Duration first_retry = std::chrono::milliseconds(250);
  Duration longest_retry = std::chrono::seconds(2);
  Duration restate_off = std::chrono::seconds(1);  // a confirmed "off" is looked at again
};

class OutputIntent {
 public:
  enum class Action {
    None,
    Drop,        // an "on" whose end came before it could be confirmed: tell, do nothing
    RestateOff,  // confirmed before: verify, or say it again
    SwitchOff,
    SwitchOn,
  };
  struct Step {
    Action action = Action::None;
    MonoTime on_until;             // of SwitchOn
    std::uint64_t generation = 0;  // of the statement that this step serves
  };

  // Starts wanting "off", not yet confirmed.
  explicit OutputIntent(OutputTiming timing);

  void want(std::optional<MonoTime> on_until, MonoTime now);

  // What to do now.
  Step next(MonoTime now);
  // What became of it. The outcome of a step that a newer statement overtook changes nothing.
  void done(const Step& step, bool confirmed, MonoTime now);

  // What was confirmed may hold no longer (the device was out of reach): say it again.
  void doubt(MonoTime now);

  // The earliest time at which next() may have something to do.
  [[nodiscard]] MonoTime due() const;
  [[nodiscard]] bool confirmed_off() const { return !on_until_ && confirmed_; }
  [[nodiscard]] bool wants_off(MonoTime now) const { return !on_until_ || now >= *on_until_; }
  // The end of the wanted "on".
  [[nodiscard]] std::optional<MonoTime> on_until() const { return on_until_; }
  [[nodiscard]] std::uint64_t generation() const { return generation_; }

 private:
  void state(std::optional<MonoTime> on_until, MonoTime now);

  OutputTiming timing_;
  Backoff retry_;
  std::optional<MonoTime> on_until_;
  bool confirmed_ = false;
  MonoTime next_try_ = MonoTime::min();
  std::uint64_t generation_ = 0;
};

}  // namespace brinegate::drivers
