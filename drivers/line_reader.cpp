// SPDX-License-Identifier: Apache-2.0
#include "drivers/line_reader.h"

namespace brinegate::drivers {

void LineReader::take(std::string_view bytes, const OnLine& on_line) {
  while (!bytes.empty()) {
    const std::size_t end = bytes.find('\n');
    const std::string_view part = bytes.substr(0, end);
    too_long_ = too_long_ || line_.size() + part.size() > longest_line;
    if (!too_long_) {
      line_.append(part);
    }
    if (end == std::string_view::npos) {
      return;
    }
    on_line(too_long_ ? std::nullopt : std::optional<std::string_view>(line_));
    restart();
    bytes.remove_prefix(end + 1);
  }
}

void LineReader::restart() {
  line_.clear();
  too_long_ = false;
}

}  // namespace brinegate::drivers
