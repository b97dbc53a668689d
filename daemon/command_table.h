// SPDX-License-Identifier: Apache-2.0
// Every command there is, in the order of the help.
#pragma once

#include "daemon/command_line.h"

namespace brinegate::daemon {

CommandTable commands();

}  // namespace brinegate::daemon
