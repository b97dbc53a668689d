// SPDX-License-Identifier: Apache-2.0
// `brinegate setup`: leads a person from a new machine with probes to a configuration. Reads
// devices, switches nothing, and never overwrites a file.
#pragma once

#include "daemon/command_line.h"

namespace brinegate::daemon {

Command setup_command();

}  // namespace brinegate::daemon
