// SPDX-License-Identifier: Apache-2.0
// What is said on a broker: for whoever sets a station up. Subscribes and publishes nothing, not
// even a will.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "config/advice_broker.h"
#include "config/model.h"
#include "rules/result.h"
#include "rules/time.h"

namespace brinegate::drivers {

struct HeardTopic {
  std::string topic;
  std::string payload;         // the latest
  std::uint64_t messages = 0;  // while listened
  bool retained = false;       // the latest is an old one that the broker replayed
};

struct Heard {
  std::vector<HeardTopic> topics;  // in the order of their names
  bool all = true;                 // false: there are more topics than are kept
};

// Blocks for that long, and for the time it takes to connect.
Result<Heard, config::BrokerTrouble> listen(const config::Mqtt& mqtt, const std::string& filter,
                                            Duration duration);

}  // namespace brinegate::drivers
