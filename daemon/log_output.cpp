// SPDX-License-Identifier: Apache-2.0
// See log_output.h.
#include "daemon/log_output.h"

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <iterator>
#include <utility>

#include <fmt/format.h>
#include <unistd.h>

namespace brinegate::daemon {
namespace {

constexpr Duration first_window = std::chrono::minutes(1);
constexpr Duration longest_window = std::chrono::hours(1);
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
  // What a full disk or a closed pipe does not take is lost, and the daemon goes on.
  const auto print = [](std::string_view line) {
    const std::string whole = fmt::format("{}\n", line);
    std::fwrite(whole.data(), 1, whole.size(), stderr);
  };
  return {print, isatty(STDERR_FILENO) == 0};
}

LogOutput::LogOutput(Print print, bool with_priorities)
    : print_(std::move(print)), with_priorities_(with_priorities) {}

void LogOutput::write(LogLevel level, std::string_view text, MonoTime now,
                      std::string_view detail) {
  tell_repeats(now);
  const auto same = recent_.find(text);
  if (same == recent_.end()) {
    if (recent_.size() < most_remembered) {
      recent_.emplace(text, Recent{level, now, first_window, 0});
    }
    print(level, text, detail);
  } else if (now - same->second.printed < same->second.window) {
    ++same->second.repeats;
  } else {
    print(level, text, detail);
    same->second.print_again(now);
  }
}

void LogOutput::Recent::print_again(MonoTime now) {
  printed = now;
  window = std::min(2 * window, longest_window);
  repeats = 0;
}

void LogOutput::tell_repeats(MonoTime now) {
  for (auto it = recent_.begin(); it != recent_.end();) {
    Recent& recent = it->second;
    const Duration since = now - recent.printed;
    if (since >= recent.window && recent.repeats > 0) {
      print(recent.level, fmt::format("{} ({} more times)", it->first, recent.repeats));
      recent.print_again(now);
      ++it;
    } else {
      // Forgotten only after a long quiet: what comes and goes slowly is one fault too.
      it = since > longest_window ? recent_.erase(it) : std::next(it);
    }
  }
}

void LogOutput::print(LogLevel level, std::string_view text, std::string_view detail) {
  const std::string line = on_one_line(fmt::format("{}{}", text, detail));
  print_(with_priorities_ ? fmt::format("<{}>{}", priority(level), line) : line);
}

}  // namespace brinegate::daemon
