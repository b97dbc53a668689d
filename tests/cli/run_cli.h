// SPDX-License-Identifier: Apache-2.0
// Runs the command line inside the test and keeps what it said.
#pragma once

#include <sstream>
#include <string>
#include <string_view>
#include <vector>

#include <nlohmann/json.hpp>

#include "daemon/command_line.h"
#include "daemon/command_table.h"

namespace brinegate::daemon {

struct Said {
  ExitStatus status = ExitStatus::Done;
  std::string out;
  std::string err;

  [[nodiscard]] nlohmann::json json() const { return nlohmann::json::parse(out); }
};

inline Said run_cli(const std::vector<std::string_view>& words, const std::string& answers = "") {
  std::ostringstream out;
  std::ostringstream err;
  std::istringstream in(answers);
  Console console{out, err, in};
  const ExitStatus status = run_command_line(commands(), words, console);
  return {status, out.str(), err.str()};
}

}  // namespace brinegate::daemon
