// SPDX-License-Identifier: Apache-2.0
// Lines out of a stream of bytes that comes in pieces of any size. Pure. Bounded: of a line without
// an end no more than longest_line is ever held.
#pragma once

#include <cstddef>
#include <functional>
#include <optional>
#include <string>
#include <string_view>

namespace brinegate::drivers {

class LineReader {
 public:
  static constexpr std::size_t longest_line = std::size_t{64} * 1024;  // bytes
  // Nothing where the line was too long. The text is good until the call returns.
  using OnLine = std::function<void(std::optional<std::string_view> line)>;

  // Calls for each line that ends in these bytes, without its end.
  void take(std::string_view bytes, const OnLine& on_line);
  // The stream begins anew: half a line of the old one is forgotten.
  void restart();

 private:
  std::string line_;
  bool too_long_ = false;
};

}  // namespace brinegate::drivers
