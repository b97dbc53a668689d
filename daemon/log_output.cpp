// SPDX-License-Identifier: Apache-2.0
// See log_output.h.
#include "daemon/log_output.h"

#include <chrono>
#include <utility>

#include <fmt/format.h>
#include <unistd.h>

namespace brinegate::daemon {
namespace {

constexpr Duration repeat_window = std::chrono::minutes(1);
constexpr std::size_t most_remembered = 256;

// Of syslog(3): LOG_ERR, LOG_WARNING, LOG_INFO.
int priority(LogLevel level) {
  switch (level) {
    case LogLevel::Error:
      return 3;
    case LogLevel::Warning:
      return 4;
    case LogLevel::Info:
      return 6;
  }
  return 3;
}

// What came from outside cannot begin a line of its own or steer a terminal.
std::string on_one_line(std::string_view text) {
  std::string line(text);
  for (char& c : line) {
    if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f) {
      c = ' ';
    }
  }
  return line;
}

}  // namespace

LogOutput LogOutput::to_stderr() {
  return {[](std::string_view line) { fmt::print(stderr, "{}\n", line); },
          isatty(STDERR_FILENO) == 0};
}

LogOutput::LogOutput(Print print, bool with_priorities)
    : print_(std::move(print)), with_priorities_(with_priorities) {}

void LogOutput::write(LogLevel level, std::string_view text, MonoTime now) {
  tell_repeats(now);
  if (const auto same = recent_.find(text); same != recent_.end()) {
    ++same->second.repeats;
    return;
  }
  if (recent_.size() < most_remembered) {
    recent_.emplace(text, Recent{level, now, 0});
  }
  print(level, text);
}

void LogOutput::tell_repeats(MonoTime now) {
  for (auto it = recent_.begin(); it != recent_.end();) {
    Recent& recent = it->second;
    if (now - recent.printed < repeat_window) {
      ++it;
    } else if (recent.repeats == 0) {
      it = recent_.erase(it);
    } else {
      print(recent.level, fmt::format("{} ({} more times)", it->first, recent.repeats));
      recent = {recent.level, now, 0};
      ++it;
    }
  }
}

void LogOutput::print(LogLevel level, std::string_view text) {
  const std::string line = on_one_line(text);
  print_(with_priorities_ ? fmt::format("<{}>{}", priority(level), line) : line);
}

}  // namespace brinegate::daemon
