// SPDX-License-Identifier: Apache-2.0
#include "config/problem.h"

#include <algorithm>
#include <tuple>

#include <fmt/format.h>

namespace brinegate::config {
namespace {

std::vector<Problem> in_file_order(std::vector<Problem> problems) {
  std::stable_sort(problems.begin(), problems.end(), [](const Problem& a, const Problem& b) {
    return std::tie(a.line, a.column) < std::tie(b.line, b.column);
  });
  return problems;
}

}  // namespace

std::string render(const Problem& problem) {
  return fmt::format("{}:{}:{}: {}", problem.file, problem.line, problem.column, problem.message);
}

void Problems::error(Position at, std::string message) {
  errors_.push_back({file_, at.line, at.column, std::move(message)});
}

void Problems::hazard(Position at, std::string message) {
  hazards_.push_back({file_, at.line, at.column, std::move(message)});
}

std::vector<Problem> Problems::errors() const {
  return in_file_order(errors_);
}

std::vector<Problem> Problems::hazards() const {
  return in_file_order(hazards_);
}

}  // namespace brinegate::config
