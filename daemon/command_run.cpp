// SPDX-License-Identifier: Apache-2.0
// See command_run.h.
#include "daemon/command_run.h"

#include <csignal>
#include <cstdio>
#include <memory>
#include <string>
#include <string_view>

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

}  // namespace

int run_daemon(const std::filesystem::path& config_file) {
  std::signal(SIGPIPE, SIG_IGN);  // a peer that goes away is an error of that one write
  umask(0077);
  const config::Loaded loaded = config::load_file(config_file);
  for (const config::Problem& error : loaded.errors) {
    fmt::print(stderr, "{}\n", config::render(error));
  }
  if (!loaded.site) {
    return 2;
  }
  LogOutput log = LogOutput::to_stderr();
  const auto say = [&log](LogLevel level, std::string_view text) {
    log.write(level, text, drivers::monotonic_now());
  };
  for (const std::string_view caution : config::cautions) {
    say(LogLevel::Info, caution);
  }
  for (const config::Problem& hazard : loaded.hazards) {
    say(LogLevel::Warning, config::render(hazard));
  }
  say(LogLevel::Info, describe(*loaded.site));
  Result<std::unique_ptr<Shell>> shell =
      Shell::create(*loaded.site, log, Supervision::from_environment());
  if (!shell.ok()) {
    say(LogLevel::Error, shell.error().message);
    return 1;
  }
  std::move(shell).value()->run();
  return 0;
}

}  // namespace brinegate::daemon
