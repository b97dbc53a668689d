// SPDX-License-Identifier: Apache-2.0
// Keeps what home automation shows of us in step with the configuration: announces what there is,
// and takes back what is no longer there. What stands announced on the broker outlives the process
// and the configuration that it was made from, so it is kept in the store: a station or a probe
// that is gone leaves no ghost behind, after a restart either.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "config/model.h"
#include "daemon/engine/effects.h"
#include "rules/result.h"
#include "rules/time.h"

namespace brinegate::daemon {

class Announcer {
 public:
  static constexpr const char* table = "announced";  // of what is stored, by topic

  // Announces nothing where the site does not want it.
  explicit Announcer(const config::Site& site);
  Result<Done> restore(const StoredState& state);

  // All is said again from here on: takes back what is of no station.
  void begin(MonoTime now, std::vector<Effect>& effects);
  // Of this station, by its place in the configuration.
  void announce(std::size_t station, Append& append, std::vector<Effect>& effects);
  void broker_lost() { begun_.reset(); }
  // Once all that was said has surely arrived, forgets what was taken back.
  void settle(MonoTime now, Append& append);

 private:
  using Platforms = std::map<std::string, std::string>;  // by the component's key
  struct Announcement {
    std::string topic;
    std::string station;
    std::string payload;
    Platforms platforms;
  };
  [[nodiscard]] const Announcement* wanted(const std::string& topic) const;

  std::vector<Announcement> wanted_;           // of every station, or of none
  std::map<std::string, Platforms> standing_;  // by topic: what the broker may hold
  std::optional<MonoTime> begun_;              // and the connection has stood ever since
};

}  // namespace brinegate::daemon
