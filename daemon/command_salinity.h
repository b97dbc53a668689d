// SPDX-License-Identifier: Apache-2.0
// `brinegate salinity`: from conductivity, gravity or salinity to all of them.
#pragma once

#include "daemon/command_line.h"

namespace brinegate::daemon {

Command salinity_command();

}  // namespace brinegate::daemon
