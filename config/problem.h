// SPDX-License-Identifier: Apache-2.0
// What is wrong with a file, and where: collected whole, shown at once.
#pragma once

#include <compare>
#include <string>
#include <utility>
#include <vector>

namespace brinegate::config {

// Both count from 1; a missing thing is reported where the table that lacks it begins.
struct Position {
  int line = 1;
  int column = 1;
  auto operator<=>(const Position&) const = default;
};

// One thing wrong, in a sentence that says what to write instead.
struct Problem {
  std::string file;
  int line = 1;
  int column = 1;
  std::string message;
};

// "file:line:column: message", which editors turn into a link.
std::string render(const Problem& problem);

// Errors make the file unusable; hazards are what a person should know about a usable one.
class Problems {
 public:
  explicit Problems(std::string file) : file_(std::move(file)) {}

  void error(Position at, std::string message);
  void hazard(Position at, std::string message);
  [[nodiscard]] bool any_error() const { return !errors_.empty(); }

  // In the order of the file.
  [[nodiscard]] std::vector<Problem> errors() const;
  [[nodiscard]] std::vector<Problem> hazards() const;

 private:
  std::string file_;
  std::vector<Problem> errors_;
  std::vector<Problem> hazards_;
};

}  // namespace brinegate::config
