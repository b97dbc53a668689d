// SPDX-License-Identifier: Apache-2.0
// Batches over HTTP, as the record has them.
#pragma once

#include <filesystem>
#include <string>

#include "daemon/http_message.h"

namespace brinegate::daemon {

// All of them, newest first.
HttpResponse batches_response(const std::filesystem::path& data);
// One, with its entries of the record, oldest first.
HttpResponse batch_response(const std::filesystem::path& data, const std::string& id);

}  // namespace brinegate::daemon
