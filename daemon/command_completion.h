// SPDX-License-Identifier: Apache-2.0
// Completion for bash, made from the table of commands when the package is built.
#pragma once

#include <string>

#include "daemon/command_line.h"

namespace brinegate::daemon {

// A script to be sourced.
std::string bash_completion(const CommandTable& table);

}  // namespace brinegate::daemon
