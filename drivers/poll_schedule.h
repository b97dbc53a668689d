// SPDX-License-Identifier: Apache-2.0
// Which source of a line is read next, and which unit is left alone for a while because it failed.
// Pure: time is an argument.
#pragma once

#include <cstddef>
#include <cstdint>
#include <map>
#include <optional>
#include <vector>

#include "drivers/backoff.h"
#include "rules/reading.h"
#include "rules/time.h"

namespace brinegate::drivers {

class PollSchedule {
 public:
  struct Source {
    Duration every;
    std::uint8_t unit = 1;
  };
  struct Turn {
    std::size_t source = 0;
    // None: ask. Otherwise the unit rests: deliver this fault in place of a value and do not ask,
    // so that one dead unit cannot starve the others on its line.
    SampleFault resting = SampleFault::None;
  };

  PollSchedule(const std::vector<Source>& sources, Duration first_rest, Duration longest_rest);

  // The source that waited longest past its time. Counts as served: its next turn is one period
  // on, without catching up on turns that were missed.
  std::optional<Turn> take(MonoTime now);

  void unit_answered(std::uint8_t unit);
  void unit_failed(std::uint8_t unit, SampleFault fault, MonoTime now);

  // When take() next has something to give.
  [[nodiscard]] MonoTime due() const;

 private:
  struct Entry {
    Source source;
    MonoTime due = MonoTime::min();
  };
  struct Rest {  // NOLINT(*-member-init): a Backoff is never made without its limits
    Backoff backoff;
    SampleFault fault = SampleFault::Timeout;
    MonoTime until = MonoTime::min();
  };

  std::vector<Entry> entries_;
  std::map<std::uint8_t, Rest> resting_;
  Duration first_rest_;
  Duration longest_rest_;
};

}  // namespace brinegate::drivers
