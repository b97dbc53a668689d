// SPDX-License-Identifier: Apache-2.0
// An invented keeper's folder: a configuration, the example lots and tank, and the command line on
// them, without a daemon.
#pragma once

#include <filesystem>
#include <fstream>
#include <string>
#include <string_view>
#include <vector>

#include "tests/cli/run_cli.h"
#include "tests/config/cellar.h"
#include "tests/temporary_folder.h"

namespace brinegate::daemon {

class Shop {
 public:
  Shop() {
    std::ofstream(config_) << config::with(config::cellar, "\"record\"",
                                           '"' + folder_.file("record") + '"');
  }

  // An example file of ours.
  static std::string example(const std::string& name) {
    return (std::filesystem::path(BRINEGATE_SOURCE_DIR) / "config/examples" / name).string();
  }
  std::string file(const std::string& name, std::string_view content) const {
    std::ofstream(folder_.file(name)) << content;
    return folder_.file(name);
  }
  // A copy of an example with one place changed.
  std::string changed(const std::string& name, std::string_view from, std::string_view to) const {
    return file(name, config::with(config::content_of("config/examples/" + name), from, to));
  }
  [[nodiscard]] Said run(std::vector<std::string> words) const {
    words.insert(words.end(), {"--config", config_});
    return run_cli({words.begin(), words.end()});
  }
  // The three lots and the tank with its test on record.
  void fill() const {
    for (const char* lot : {"h-2291.json", "h-2304.csv", "h-2317.txt"})
      EXPECT_EQ(run({"lot", "add", example(lot)}).status, ExitStatus::Done) << lot;
    EXPECT_EQ(run({"tank", "add", example("reef.json")}).status, ExitStatus::Done);
    EXPECT_EQ(run({"tank", "test", "reef", example("reef-test.json")}).status, ExitStatus::Done);
  }
  [[nodiscard]] const TemporaryFolder& folder() const { return folder_; }
  [[nodiscard]] std::filesystem::path data() const { return folder_.path() / "record"; }

 private:
  TemporaryFolder folder_;
  std::string config_ = folder_.file("cellar.toml");
};

// Of the analyte's row.
inline nlohmann::json row_of(const nlohmann::json& rows, std::string_view analyte) {
  for (const auto& row : rows)
    if (row.at("analyte") == analyte)
      return row;
  ADD_FAILURE() << "no row of " << analyte;
  return {};
}

}  // namespace brinegate::daemon
