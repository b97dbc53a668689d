// SPDX-License-Identifier: Apache-2.0
// Reads back the JSON that we wrote ourselves.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "daemon/engine/state_json.h"
#include "rules/result.h"
#include "rules/time.h"
#include "rules/units.h"

namespace brinegate::daemon {

inline std::int64_t ns(Duration d) {
  return d.count();
}
inline std::int64_t ns(WallTime t) {
  return t.time_since_epoch().count();
}

// Reads the members of an object; the first that is missing or of another
// type is remembered and everything after it is a default.
class Reader {
 public:
  explicit Reader(const Json& json) : json_(json) {}

  void read(const char* key, double& into) {
    const Json* value = find(key);
    if (value != nullptr && value->is_number())
      into = value->get<double>();
    else
      miss(key);
  }
  template <class Tag>
  void read(const char* key, Quantity<Tag>& into) {
    double value = 0.0;
    read(key, value);
    into = Quantity<Tag>(value);
  }
  void read(const char* key, std::int64_t& into) {
    const Json* value = find(key);
    if (value != nullptr && value->is_number_integer())
      into = value->get<std::int64_t>();
    else
      miss(key);
  }
  void read(const char* key, int& into) {
    std::int64_t value = 0;
    read(key, value);
    into = static_cast<int>(value);
  }
  void read(const char* key, Duration& into) {
    std::int64_t value = 0;
    read(key, value);
    into = Duration(value);
  }
  void read(const char* key, WallTime& into) {
    Duration value{0};
    read(key, value);
    into = WallTime(value);
  }
  void read(const char* key, bool& into) {
    const Json* value = find(key);
    if (value != nullptr && value->is_boolean())
      into = value->get<bool>();
    else
      miss(key);
  }
  void read(const char* key, std::string& into) {
    const Json* value = find(key);
    if (value != nullptr && value->is_string())
      into = value->get<std::string>();
    else
      miss(key);
  }
  template <class Enum, class Find>
  void read_word(const char* key, Enum& into, Find find_word) {
    std::string text;
    read(key, text);
    if (const auto found = find_word(text))
      into = *found;
    else
      miss(key);
  }
  // An absent member is none.
  template <class T>
  void read(const char* key, std::optional<T>& into) {
    if (find(key) != nullptr)
      read(key, into.emplace());
    else
      into.reset();
  }
  [[nodiscard]] const Json* find(const char* key) const {
    if (!json_.is_object())
      return nullptr;
    const auto found = json_.find(key);
    return found == json_.end() || found->is_null() ? nullptr : &*found;
  }
  void miss(const std::string& key) {
    if (missing_.empty())
      missing_ = key;
  }
  [[nodiscard]] const std::string& missing() const { return missing_; }

 private:
  const Json& json_;
  std::string missing_;
};

inline Result<Json> parse_own(std::string_view text) {
  Json json = Json::parse(text, nullptr, false);
  if (!json.is_object())
    return Error{"what was stored is not a JSON object"};
  return json;
}

inline Error lacks(const std::string& key) {
  return Error{fmt::format("what was stored lacks a usable '{}'", key)};
}

// null where there is none.
template <class Tag>
Json or_null(const std::optional<Quantity<Tag>>& value) {
  return value ? Json(value->value()) : Json();
}
inline Json or_null(const std::optional<double>& value) {
  return value ? Json(*value) : Json();
}

}  // namespace brinegate::daemon
