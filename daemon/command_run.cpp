// SPDX-License-Identifier: Apache-2.0
// See command_run.h.
#include "daemon/command_run.h"

#include <csignal>
#include <cstdio>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <utility>

#include <fmt/format.h>
#include <sys/stat.h>

#include "config/cautions.h"
#include "config/load.h"
#include "config/problem.h"
#include "daemon/log_output.h"
#include "daemon/shell.h"
#include "daemon/supervision.h"
#include "drivers/clock.h"

namespace brinegate::daemon {
namespace {

std::string describe(const config::Site& site) {
  const auto count = [](std::size_t number, std::string_view one) {
    return fmt::format("{} {}{}", number, one, number == 1 ? "" : "s");
  };
  const std::string http =
      site.http ? fmt::format("HTTP on {} port {}", site.http->address, site.http->port)
                : "no HTTP";
  return fmt::format("site {}: {}, {}, {}, {}, data in {}", site.name,
                     count(site.stations.size(), "station"),
                     count(site.links.size(), "Modbus line"),
                     site.mqtt ? "broker " + site.mqtt->broker : "no broker", http, site.data);
}

void say(LogLevel level, std::string_view text) {
  LogOutput::to_stderr().write(level, text, drivers::monotonic_now());
}

void announce(const config::Loaded& loaded) {
  for (const config::Problem& hazard : loaded.hazards) {
    say(LogLevel::Warning, config::render(hazard));
  }
  say(LogLevel::Info, describe(*loaded.site));
}

// S10: what the file says by now, with the files of passwords and the like that it names, where
// that is whole and other than what is in force.
std::optional<config::Loaded> newly_configured(const std::filesystem::path& file,
                                               const config::Loaded& in_force) {
  config::Loaded loaded = config::load_file(file);
  if (!loaded.site) {
    for (const config::Problem& error : loaded.errors) {
      say(LogLevel::Error, config::render(error));
    }
    say(LogLevel::Error, "the new configuration is refused: the old one stays in force");
    return std::nullopt;
  }
  if (loaded.document == in_force.document && loaded.files == in_force.files) {
    say(LogLevel::Info, "the configuration has not changed: nothing to do");
    return std::nullopt;
  }
  for (const auto& [file, contents] : loaded.files) {
    if (!contents) {
      say(LogLevel::Error,
          fmt::format("{} cannot be read: the old configuration stays in force", file));
      return std::nullopt;
    }
  }
  say(LogLevel::Warning,
      "a new configuration is put in place: every gate shuts, until fresh "
      "readings meet every check again");
  return loaded;
}

// One shell after the other, each with a configuration of its own. Between two of them every output
// is off.
int run_shells(const std::filesystem::path& file, config::Loaded in_force) {
  const Supervision supervision = Supervision::from_environment();
  std::optional<config::Loaded> next;
  std::optional<config::Loaded> before;
  const auto look_for_next = [&] {
    next = newly_configured(file, in_force);
    return next.has_value();
  };
  for (;;) {
    announce(in_force);
    Result<std::unique_ptr<Shell>> created = Shell::create(
        *in_force.site, in_force.notify, LogOutput::to_stderr(), supervision, look_for_next);
    if (created.ok()) {
      const std::unique_ptr<Shell> shell = std::move(created).value();
      if (shell->run() == RunEnd::Stopped) {
        return 0;
      }
      before = std::exchange(in_force, *std::exchange(next, std::nullopt));
      continue;
    }
    say(LogLevel::Error, created.error().message);
    if (!before) {
      return 1;
    }
    say(LogLevel::Error, "the new configuration cannot be put in place: back to the old one");
    in_force = *std::exchange(before, std::nullopt);
  }
}

}  // namespace

int run_daemon(const std::filesystem::path& config_file) {
  std::signal(SIGPIPE, SIG_IGN);  // a peer that goes away is an error of that one write
  umask(0077);
  config::Loaded loaded = config::load_file(config_file);
  for (const config::Problem& error : loaded.errors) {
    fmt::print(stderr, "{}\n", config::render(error));
  }
  if (!loaded.site) {
    std::error_code unknown;
    if (!std::filesystem::exists(config_file, unknown) && !unknown) {
      fmt::print(stderr, "brinegate: to be led to a first configuration: brinegate setup {}\n",
                 config_file.string());
    }
    return 2;
  }
  for (const std::string_view caution : config::cautions) {
    say(LogLevel::Info, caution);
  }
  return run_shells(config_file, std::move(loaded));
}

}  // namespace brinegate::daemon
