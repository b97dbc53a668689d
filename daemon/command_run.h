// SPDX-License-Identifier: Apache-2.0
// `brinegate run`: the daemon, in the foreground.
#pragma once

#include <filesystem>

namespace brinegate::daemon {

// The exit status: 0 stopped as asked, 1 could not start, 2 invalid configuration (all errors are
// on stderr).
int run_daemon(const std::filesystem::path& config_file);

}  // namespace brinegate::daemon
