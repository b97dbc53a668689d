// SPDX-License-Identifier: Apache-2.0
// What home automation is told of a station, so that it shows one without being set up: one device
// by MQTT discovery (device form, home-assistant.io/integrations/mqtt), published retained.
//
// Identities are the site's and the station's configured names and a fixed key. These are no labels
// that somebody rewords: topics, record and calibrations go by the same names, so they are as
// stable as the station itself, also when the record is lost or the broker is another; and no two
// daemons of one site's name can be on one broker.
//
// What is measured is available while its reading is good, and expires when nothing is told any
// more; what the daemon decides, as long as the daemon is there, so that a bad probe does not hide
// the reason why the gate is shut. Nothing of it can drive an output: the buttons publish requests,
// which are judged like any other from the network.
#pragma once

#include <string>
#include <string_view>

#include "config/model.h"
#include "daemon/engine/state_json.h"

namespace brinegate::daemon {

// "homeassistant/device/brinegate-cellar/mixer/config"
std::string discovery_topic(const config::Mqtt& mqtt, const std::string& site,
                            const std::string& station);

// The message on it; `version` is that of the program.
Json discovery(const std::string& site, const config::Station& station, std::string_view version);

}  // namespace brinegate::daemon
