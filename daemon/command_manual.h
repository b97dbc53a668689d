// SPDX-License-Identifier: Apache-2.0
// The manual page brinegate(1), made from the table of commands when the package is built.
#pragma once

#include <string>

#include "daemon/command_line.h"

namespace brinegate::daemon {

// Source for man(7).
std::string manual_page(const CommandTable& table);

}  // namespace brinegate::daemon
