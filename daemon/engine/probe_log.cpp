// SPDX-License-Identifier: Apache-2.0
#include "daemon/engine/probe_log.h"

#include <fmt/format.h>

#include "config/words.h"

namespace brinegate::daemon {
namespace {

constexpr Duration lasting = std::chrono::seconds(10);

std::string line(const Station& station, std::size_t probe) {
  const Reading& reading = station.readings()[probe];
  const std::string_view name = station.spec().probes[probe].name;
  if (reading.quality() == Quality::Bad)
    return fmt::format("{}: no good reading of {} ({})", station.spec().name, name,
                       config::word(reading.reason()));
  return fmt::format("{}: {} is read again", station.spec().name, name);
}

}  // namespace

void ProbeLog::follow(const Station& station, MonoTime now, std::vector<Effect>& effects) {
  told_.resize(station.readings().size());
  for (std::size_t probe = 0; probe < told_.size(); ++probe) {
    Told& told = told_[probe];
    const bool bad = station.readings()[probe].quality() == Quality::Bad;
    if (bad == told.bad) {
      told.otherwise_since.reset();
      continue;
    }
    if (!told.otherwise_since)
      told.otherwise_since = now;
    if (now - *told.otherwise_since < lasting)
      continue;
    told = {bad, std::nullopt};
    effects.push_back(Log{LogLevel::Warning, line(station, probe)});
  }
}

}  // namespace brinegate::daemon
