// SPDX-License-Identifier: Apache-2.0
// Members of an object of JSON that may be absent or of another kind.
#pragma once

#include <string>

#include <nlohmann/json.hpp>

namespace brinegate::daemon {

inline std::string text_of(const nlohmann::json& object, const char* key,
                           const char* otherwise = "") {
  const auto found = object.find(key);
  return found != object.end() && found->is_string() ? found->get<std::string>() : otherwise;
}

}  // namespace brinegate::daemon
