// SPDX-License-Identifier: Apache-2.0
// The program `brinegate`: the command line, and behind its command `run` the daemon.
#include <iostream>
#include <string_view>
#include <vector>

#include "daemon/command_line.h"
#include "daemon/command_table.h"

int main(int argc, char** argv) {
  using namespace brinegate::daemon;
  const std::vector<std::string_view> words(argv + 1, argv + argc);
  Console console{std::cout, std::cerr, std::cin};
  ExitStatus status = run_command_line(commands(), words, console);
  if (!std::cout.flush()) {
    std::cerr << "brinegate: could not write the output\n";
    status = ExitStatus::Refused;
  }
  return static_cast<int>(status);
}
