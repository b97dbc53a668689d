// SPDX-License-Identifier: Apache-2.0
// Lots and tanks over HTTP: an address and its parameters as a question to the library (request.h),
// and the answer. Ranking many lots takes its time, so it is worked out beside the loop.
#pragma once

#include <filesystem>
#include <map>
#include <string>
#include <string_view>

#include "daemon/engine/request.h"
#include "daemon/http_message.h"
#include "rules/result.h"
#include "rules/time.h"

namespace brinegate::daemon {

// `act`: "lot show"; `key`: what the free part of the address names, "lot" or "tank", or nothing.
Result<Request> library_question(std::string_view act, std::string_view key,
                                 const std::string& name,
                                 const std::map<std::string, std::string>& query);

// What "lot add" or "tank test" would put on record, and what of the text cannot be read. Stores
// nothing.
HttpResponse preview_response(const Request& request);

HttpResponse library_response(const std::filesystem::path& data, const Request& question,
                              WallTime now);

}  // namespace brinegate::daemon
