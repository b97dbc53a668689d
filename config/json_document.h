// SPDX-License-Identifier: Apache-2.0
// A JSON text (RFC 8259) as the plain tree of config/document.h, with the place of every key and
// value. Stricter than JSON: a key given twice, null, more than 8 levels and more than 5000
// values are errors.
#pragma once

#include <optional>
#include <string_view>

#include "config/document.h"
#include "config/problem.h"

namespace brinegate::config {

// Nothing after reporting what is wrong. Columns count characters.
std::optional<Node> parse_json(std::string_view text, Problems& problems);

}  // namespace brinegate::config
