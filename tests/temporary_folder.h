// SPDX-License-Identifier: Apache-2.0
// A folder of its own for one test, removed with everything in it.
#pragma once

#include <cstdlib>
#include <filesystem>
#include <stdexcept>
#include <string>

namespace brinegate {

class TemporaryFolder {
 public:
  TemporaryFolder() {
    std::string name = (std::filesystem::temp_directory_path() / "brinegate-test-XXXXXX").string();
    if (mkdtemp(name.data()) == nullptr) {
      throw std::runtime_error("cannot make a temporary folder " + name);
    }
    path_ = name;
  }
  ~TemporaryFolder() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }
  TemporaryFolder(const TemporaryFolder&) = delete;
  TemporaryFolder& operator=(const TemporaryFolder&) = delete;

  [[nodiscard]] const std::filesystem::path& path() const { return path_; }
  [[nodiscard]] std::string file(const std::string& name) const { return (path_ / name).string(); }
  // A broker started by root drops its rights to a user of its own.
  void open_for_other_users() const {
    using std::filesystem::perms;
    constexpr auto add = std::filesystem::perm_options::add;
    std::filesystem::permissions(path_, perms::others_read | perms::others_exec, add);
    for (const auto& entry : std::filesystem::directory_iterator(path_))
      std::filesystem::permissions(entry.path(), perms::others_read, add);
  }

 private:
  std::filesystem::path path_;
};

}  // namespace brinegate
