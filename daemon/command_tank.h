// SPDX-License-Identifier: Apache-2.0
// `brinegate tank add`, `list`, `test`, `show`, `forecast`, `change` and `review`.
#pragma once

#include <vector>

#include "daemon/command_line.h"

namespace brinegate::daemon {

std::vector<Command> tank_commands();

}  // namespace brinegate::daemon
