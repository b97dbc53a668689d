// SPDX-License-Identifier: Apache-2.0
// What people copy first is read: the example files and the examples of the documentation.
#include <filesystem>
#include <fstream>
#include <iterator>

#include <gtest/gtest.h>

#include "tests/chemistry/reading.h"

namespace brinegate::config {
namespace {

const std::filesystem::path source = BRINEGATE_SOURCE_DIR;

std::string content_of(const std::filesystem::path& path) {
  std::ifstream file(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
}

void expect_read(const std::string& text, const std::string& kind, const std::string& name) {
  std::vector<Problem> errors;
  if (kind == "tank")
    errors = read_tank(text, name).errors;
  else if (kind == "test")
    errors = read_water_test(text, name, {}).errors;
  else
    errors = read_lot(text, name, {}).errors;
  EXPECT_EQ(all_errors(errors), "");
}

TEST(Examples, InFilesAreRead) {
  int lots = 0;
  int tanks = 0;
  for (const auto& file : std::filesystem::directory_iterator(source / "config/examples")) {
    const std::string name = file.path().filename();
    const bool lot = name.starts_with("h-");
    expect_read(content_of(file.path()),
                lot ? "lot" : (name.find("-test") != std::string::npos ? "test" : "tank"), name);
    ++(lot ? lots : tanks);
  }
  EXPECT_GE(lots, 3);  // one of each format
  EXPECT_GE(tanks, 2);
}

TEST(Examples, InTheDocumentationAreRead) {
  const std::string readme = content_of(source / "config/README.md");
  const std::string mark = "<!-- example ";
  int examples = 0;
  for (std::size_t at = readme.find(mark); at != std::string::npos;
       at = readme.find(mark, at + 1)) {
    const std::size_t kind = at + mark.size();
    const std::size_t begin = readme.find('\n', readme.find("```", kind)) + 1;
    expect_read(readme.substr(begin, readme.find("```", begin) - begin),
                readme.substr(kind, readme.find(' ', kind) - kind), "README");
    ++examples;
  }
  EXPECT_EQ(examples, 5);
}

}  // namespace
}  // namespace brinegate::config
