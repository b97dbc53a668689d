// SPDX-License-Identifier: Apache-2.0
// Those who watch the stations by server-sent events (WHATWG HTML, section 9.2), and what each is
// told: only what is new.
#pragma once

#include <cstddef>
#include <map>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/http_message.h"

namespace brinegate::daemon {

// A station's state as one event.
std::string station_event(std::string_view view);

class EventStreams {
 public:
  // `station`: the one that is watched; empty: all.
  void add(std::shared_ptr<HttpStream> stream, std::string station);
  // `view` is one line of JSON. The same again is not told again.
  void tell(const std::string& station, const std::string& view);
  // So that whoever reads knows that the line holds, and who has gone is noticed.
  void heartbeat();
  [[nodiscard]] std::size_t size() const { return watchers_.size(); }
  void close() { watchers_.clear(); }

 private:
  struct Watcher {
    std::shared_ptr<HttpStream> stream;
    std::string station;
  };

  std::vector<Watcher> watchers_;
  std::map<std::string, std::string> told_;
};

}  // namespace brinegate::daemon
