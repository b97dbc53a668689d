// SPDX-License-Identifier: Apache-2.0
// The daemon's log: lines on stderr with the priority prefixes that the journal understands. The
// same line again within a minute is counted instead of printed.
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

  void write(LogLevel level, std::string_view text, MonoTime now);
  // Says how often lines were repeated whose minute is over.
  void tell_repeats(MonoTime now);

 private:
  struct Recent {
    LogLevel level;
    MonoTime printed;
    std::size_t repeats = 0;
  };

  void print(LogLevel level, std::string_view text);

  Print print_;
  bool with_priorities_;
  std::map<std::string, Recent, std::less<>> recent_;
};

}  // namespace brinegate::daemon
