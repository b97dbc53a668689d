// SPDX-License-Identifier: Apache-2.0
// The lots and tanks on record, read from the disk whether or not the daemon runs.
#pragma once

#include <filesystem>

#include "daemon/engine/library.h"
#include "rules/result.h"

namespace brinegate::daemon {

Result<Library> stored_library(const std::filesystem::path& data);

}  // namespace brinegate::daemon
