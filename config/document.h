// SPDX-License-Identifier: Apache-2.0
// A TOML document as a plain tree with the position of every key and value, tables in the order of
// the file. Keeps the TOML library out of everything but document.cpp.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "config/problem.h"

namespace brinegate::config {

struct Node;
struct Member;
using Table = std::vector<Member>;
using Array = std::vector<Node>;
struct DateOrTime {  // valid TOML that nothing here asks for
  bool operator==(const DateOrTime&) const = default;
};

struct Node {
  Position at;
  std::variant<DateOrTime, bool, std::int64_t, double, std::string, Array, Table> value;

  bool operator==(const Node& other) const;  // wherever it stands in its file
};

struct Member {
  std::string key;
  Position at;  // of the key
  Node node;

  bool operator==(const Member& other) const { return key == other.key && node == other.node; }
};

// "text", "a whole number", ...: for messages.
std::string_view kind_of(const Node& node);

// The whole document as one table, or the empty table after reporting the syntax error.
Node parse_document(std::string_view text, Problems& problems);

}  // namespace brinegate::config
