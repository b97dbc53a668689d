// SPDX-License-Identifier: Apache-2.0
// The files that are part of the program: the dashboard and the description of the interface. Their
// definition is written by cmake/embed.cmake.
#pragma once

#include <span>
#include <string_view>

namespace brinegate::daemon {

struct EmbeddedFile {
  std::string_view name;  // "index.html"
  std::string_view type;  // "text/html; charset=utf-8"
  std::string_view content;
  std::string_view compressed;  // the content, by gzip
};

std::span<const EmbeddedFile> embedded_files();
// None where there is no such file.
const EmbeddedFile* embedded_file(std::string_view name);

}  // namespace brinegate::daemon
