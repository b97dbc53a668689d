// SPDX-License-Identifier: Apache-2.0
// `brinegate dose`: the salt to weigh in.
#pragma once

#include "daemon/command_line.h"

namespace brinegate::daemon {

Command dose_command();

}  // namespace brinegate::daemon
