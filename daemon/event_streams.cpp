// SPDX-License-Identifier: Apache-2.0
// See event_streams.h.
#include "daemon/event_streams.h"

#include <utility>

#include <fmt/format.h>

namespace brinegate::daemon {

std::string station_event(std::string_view view) {
  return fmt::format("event: station\ndata: {}\n\n", view);
}

void EventStreams::add(std::shared_ptr<HttpStream> stream, std::string station) {
  watchers_.push_back({std::move(stream), std::move(station)});
}

void EventStreams::tell(const std::string& station, const std::string& view) {
  if (std::exchange(told_[station], view) == view) {
    return;
  }
  const std::string event = station_event(view);
  std::erase_if(watchers_, [&](const Watcher& watcher) {
    const bool is_watched = watcher.station.empty() || watcher.station == station;
    return is_watched && !watcher.stream->send(event);
  });
}

void EventStreams::heartbeat() {
  std::erase_if(watchers_, [](const Watcher& watcher) { return !watcher.stream->send(":\n\n"); });
}

}  // namespace brinegate::daemon
