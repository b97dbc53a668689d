// SPDX-License-Identifier: Apache-2.0
// What is wrong with a broker's TLS. The MQTT library only says that there is none; this asks again
// with a handshake of its own. It is a diagnosis, never what lets a connection through.
#pragma once

#include "config/advice_broker.h"
#include "config/model.h"
#include "rules/time.h"

namespace brinegate::drivers {

// Blocks, for each address of the host and for the handshake no longer than `patience`. NoTls where
// the handshake now succeeds.
config::BrokerTrouble tls_trouble(const config::Mqtt& mqtt, Duration patience);

}  // namespace brinegate::drivers
