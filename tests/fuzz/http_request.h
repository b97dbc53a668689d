// SPDX-License-Identifier: Apache-2.0
// What strangers send over HTTP, behind the library that cuts it into parts.
#pragma once

#include <string>
#include <string_view>

namespace brinegate::fuzz {

// `input`: "POST /api/v1/requests", a line for each header, an empty line, the body. What is wrong
// with the answer; empty: nothing.
std::string http_request(std::string_view input);

}  // namespace brinegate::fuzz
