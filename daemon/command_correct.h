// SPDX-License-Identifier: Apache-2.0
// `brinegate correct`: every way from the salinity a batch has to the one it should have.
#pragma once

#include "daemon/command_line.h"

namespace brinegate::daemon {

Command correct_command();

}  // namespace brinegate::daemon
