// SPDX-License-Identifier: Apache-2.0
// `brinegate change`: asks for a water change, or stops the one that runs.
#pragma once

#include "daemon/command_line.h"

namespace brinegate::daemon {

Command change_command();

}  // namespace brinegate::daemon
