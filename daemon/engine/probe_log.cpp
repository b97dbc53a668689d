// SPDX-License-Identifier: Apache-2.0
#include "daemon/engine/probe_log.h"

#include <fmt/format.h>

#include "config/quantity.h"
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

std::string how_long(Duration bad, std::size_t samples) {
  std::string text = " after " + config::show(bad);
  if (samples > 0)
    text += fmt::format(", {} bad samples", samples);
  return text;
}

}  // namespace

void ProbeLog::follow(const Station& station, const StationOutcome& outcome, MonoTime now,
                      std::vector<Effect>& effects) {
  told_.resize(station.readings().size());
  for (const auto& [probe, judged] : outcome.judged)
    if (judged.quality == Quality::Bad)
      ++told_[probe].bad_samples;
  for (std::size_t probe = 0; probe < told_.size(); ++probe) {
    Told& told = told_[probe];
    const bool bad = station.readings()[probe].quality() == Quality::Bad;
    if (bad && !told.bad_since)
      told.bad_since = now;
    if (!bad && !told.bad)
      told = {};
    if (bad == told.bad) {
      told.otherwise_since.reset();
      continue;
    }
    if (!told.otherwise_since)
      told.otherwise_since = now;
    if (now - *told.otherwise_since < lasting)
      continue;
    Log log{LogLevel::Warning, line(station, probe)};
    if (!bad)
      log.detail = how_long(*told.otherwise_since - *told.bad_since, told.bad_samples);
    effects.push_back(std::move(log));
    told.bad = bad;
    told.otherwise_since.reset();
  }
}

}  // namespace brinegate::daemon
