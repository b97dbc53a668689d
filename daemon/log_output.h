// SPDX-License-Identifier: Apache-2.0
// The daemon's log: lines on stderr with the priority prefixes that the journal understands. The
// same line again within a minute is counted instead of printed; where it goes on, the count comes
// after longer and longer times, an hour at most, so that a week of one fault fills no disk.
#pragma once

#include <cstddef>
#include <cstdio>
#include <functional>
#include <map>
#include <string>
#include <string_view>

#include "daemon/engine/effects.h"
#include "rules/time.h"

namespace brinegate::daemon {

class LogOutput {
 public:
  using Print = std::function<void(std::string_view line)>;

  // To stderr; without prefixes where that is a terminal.
  static LogOutput to_stderr();
  LogOutput(Print print, bool with_priorities);

  // Lines with the same text are the same, whatever their details.
  void write(LogLevel level, std::string_view text, MonoTime now, std::string_view detail = {});
  // Says how often lines were repeated whose time is over.
  void tell_repeats(MonoTime now);

 private:
  struct Recent {
    void print_again(MonoTime now);

    LogLevel level;
    MonoTime printed;
    Duration window;  // in which it is counted; twice as long each time that it is printed again
    std::size_t repeats = 0;
  };

  void print(LogLevel level, std::string_view text, std::string_view detail = {});

  Print print_;
  bool with_priorities_;
  std::map<std::string, Recent, std::less<>> recent_;
};

}  // namespace brinegate::daemon
