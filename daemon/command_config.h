// SPDX-License-Identifier: Apache-2.0
// `brinegate config check`: everything wrong with a configuration at once, and its hazards.
#pragma once

#include "daemon/command_line.h"

namespace brinegate::daemon {

Command config_check_command();

}  // namespace brinegate::daemon
