// SPDX-License-Identifier: Apache-2.0
// `brinegate lot add`, `list`, `show`, `compare` and `rank`.
#pragma once

#include <vector>

#include "daemon/command_line.h"

namespace brinegate::daemon {

std::vector<Command> lot_commands();

}  // namespace brinegate::daemon
