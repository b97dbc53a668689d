// SPDX-License-Identifier: Apache-2.0
// `brinegate probe`: calibrating and verifying a probe, and its history.
#pragma once

#include <vector>

#include "daemon/command_line.h"

namespace brinegate::daemon {

std::vector<Command> probe_commands();

}  // namespace brinegate::daemon
