// SPDX-License-Identifier: Apache-2.0
// `brinegate history`: what a probe read, from the disk, whether or not the daemon runs.
#pragma once

#include "daemon/command_line.h"

namespace brinegate::daemon {

Command history_command();

}  // namespace brinegate::daemon
