// SPDX-License-Identifier: Apache-2.0
// Reads and checks a whole configuration: a site, or every error in the file at once. Hazards are
// what a person should know about a file that is valid.
#pragma once

#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "config/document.h"
#include "config/model.h"
#include "config/notify.h"
#include "config/problem.h"

namespace brinegate::config {

struct Loaded {
  std::optional<Site> site;  // only where there is no error
  std::vector<Problem> errors;
  std::vector<Problem> hazards;
  Node document{};  // equal where two texts differ in comments and layout only
  Notify notify{};
  // What the files named in it contain, secrets among them; none where one cannot be read, and
  // everywhere where only the text was given.
  std::map<std::string, std::optional<std::string>> files{};
};

Loaded load_file(const std::filesystem::path& path);
// Relative paths in the text count from the folder of `file_name`.
Loaded load_text(std::string_view text, const std::string& file_name);

}  // namespace brinegate::config
