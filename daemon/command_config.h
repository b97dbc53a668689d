// SPDX-License-Identifier: Apache-2.0
// `brinegate config check`: everything wrong with a configuration at once, and its hazards.
#pragma once

#include <string>

#include "daemon/command_line.h"

namespace brinegate::daemon {

Command config_check_command();

// What that command does without --json.
ExitStatus check_configuration(const std::string& file, Console& console);

}  // namespace brinegate::daemon
