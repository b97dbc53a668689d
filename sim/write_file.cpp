// SPDX-License-Identifier: Apache-2.0
#include "sim/write_file.h"

#include <cerrno>
#include <cstring>
#include <fstream>

#include <fmt/format.h>

namespace brinegate::sim {

Result<Done> write_file(const std::string& path, std::string_view text) {
  std::ofstream file(path, std::ios::binary);
  file << text;
  file.close();
  if (!file)
    return Error{fmt::format("cannot write {}: {}", path, std::strerror(errno))};
  return Done{};
}

}  // namespace brinegate::sim
