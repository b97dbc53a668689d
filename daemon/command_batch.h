// SPDX-License-Identifier: Apache-2.0
// `brinegate batch`: one filling of a reservoir, from first water to the record of its use.
#pragma once

#include <vector>

#include "daemon/command_line.h"

namespace brinegate::daemon {

std::vector<Command> batch_commands();

}  // namespace brinegate::daemon
