// SPDX-License-Identifier: Apache-2.0
// What `brinegate help` says, rendered from the table of commands.
#pragma once

#include <string>

#include "daemon/command_line.h"

namespace brinegate::daemon {

Command help_command();

std::string overview(const CommandTable& table);
// --volume "40 L"
std::string option_form(const Option& option);
std::string help_of(const Command& command);
// "brinegate change STATION --volume "40 L" [--config FILE]"
std::string usage_line(const Command& command);

}  // namespace brinegate::daemon
