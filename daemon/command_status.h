// SPDX-License-Identifier: Apache-2.0
// `brinegate status`: what the gate says and why.
#pragma once

#include "daemon/command_line.h"

namespace brinegate::daemon {

Command status_command();

}  // namespace brinegate::daemon
