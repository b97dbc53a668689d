// SPDX-License-Identifier: Apache-2.0
// `brinegate alarm`: what is wrong, and saying that a person has seen it.
#pragma once

#include <vector>

#include "daemon/command_line.h"

namespace brinegate::daemon {

std::vector<Command> alarm_commands();

}  // namespace brinegate::daemon
