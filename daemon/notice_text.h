// SPDX-License-Identifier: Apache-2.0
// A notice as it is sent: JSON for machines, a subject and a text for people.
#pragma once

#include <string>

#include "daemon/alarm_notices.h"
#include "drivers/delivery.h"
#include "rules/time.h"

namespace brinegate::daemon {

drivers::Dispatch dispatch_of(const AlarmNotice& notice, const std::string& id,
                              const std::string& site, WallTime at);

}  // namespace brinegate::daemon
