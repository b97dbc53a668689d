// SPDX-License-Identifier: Apache-2.0
// A whole file at once.
#pragma once

#include <string>
#include <string_view>

#include "rules/result.h"

namespace brinegate::sim {

// The error names the file.
Result<Done> write_file(const std::string& path, std::string_view text);

}  // namespace brinegate::sim
