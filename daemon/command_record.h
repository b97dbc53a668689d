// SPDX-License-Identifier: Apache-2.0
// What the record says: `brinegate batch list`, `batch report` and `probe history`. Read from the
// disk, whether or not the daemon runs.
#pragma once

#include "daemon/command_line.h"

namespace brinegate::daemon {

Command batch_list_command();
Command batch_report_command();
Command probe_history_command();
Command record_verify_command();

}  // namespace brinegate::daemon
