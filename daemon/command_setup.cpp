// SPDX-License-Identifier: Apache-2.0
#include "daemon/command_setup.h"

#include <cerrno>
#include <cstdio>
#include <cstring>
#include <filesystem>
#include <string>

#include <fmt/format.h>
#include <fmt/ostream.h>
#include <unistd.h>

#include "daemon/command_config.h"
#include "daemon/command_text.h"
#include "daemon/setup_guide.h"

namespace brinegate::daemon {
namespace {

// Empty: it can be written. Known before the first question, so that no answer is in vain.
std::string why_not_written(const std::filesystem::path& file) {
  if (std::filesystem::exists(std::filesystem::symlink_status(file)))
    return "it exists, and is never overwritten: name another file, or edit it and let `brinegate "
           "config check` read it";
  const auto folder = file.has_parent_path() ? file.parent_path() : ".";
  if (::access(folder.c_str(), W_OK | X_OK) != 0)
    return fmt::format(
        "the folder {} cannot be written to ({}): make it, name another file, or "
        "use sudo",
        folder.string(), std::strerror(errno));
  return "";
}

bool write_new(const std::filesystem::path& file, const std::string& text) {
  std::FILE* const stream = std::fopen(file.c_str(), "wx");  // fails where the file exists
  if (stream == nullptr)
    return false;
  const bool is_written = std::fwrite(text.data(), 1, text.size(), stream) == text.size();
  return std::fclose(stream) == 0 && is_written;
}

ExitStatus setup(const Arguments& arguments, Console& console) {
  const std::string file(arguments.operand(0));
  if (const std::string why = why_not_written(file); !why.empty()) {
    fmt::print(console.err, "brinegate: {}: {}\n", file, why);
    return ExitStatus::Usage;
  }
  const auto answers = SetupGuide(file, arguments.has("simulated"), console).ask_all();
  if (!answers)
    return ExitStatus::Refused;
  if (!write_new(file, toml_of(*answers))) {
    fmt::print(console.err, "brinegate: cannot write {}: {}\n", file, std::strerror(errno));
    return ExitStatus::Refused;
  }
  fmt::print(console.out, "\n{} is written.\n\n", file);
  const ExitStatus status = check_configuration(file, console);
  fmt::print(console.out,
             "\nNext:\n  brinegate run --config {0}\n"
             "  brinegate probe verify {1} PROBE --shows ... --config {0}\n",
             file, answers->station);
  console.out << "    "
              << wrapped(
                     "at two points for each probe on the Modbus line: the daemon keeps its "
                     "own record of them, and of the cell's too",
                     4, 4)
              << "Probes for circulation, leaks and a full tank, a read-back, limits of lots, who "
                 "is told\nof alarms: see config/README.md.\n";
  return status;
}

}  // namespace

Command setup_command() {
  return {.words = "setup",
          .summary = "a first configuration, by question and answer",
          .operands = {{"FILE", "the configuration to write; one that exists is left alone"}},
          .options = {{"simulated", "",
                       "what is on the Modbus line is a simulator's, and never moves a real pump"}},
          .notes =
              "Asks what the reservoir is and where its probes are, looks who answers on the "
              "line and what is said on the broker (as `brinegate find` does), shows raw "
              "registers beside decoded values to choose from, holds a cell against its "
              "display at two points, and writes a configuration that `brinegate config "
              "check` finds valid. Nothing is written to any device and nothing is switched. "
              "Answers may come through a pipe, one a line.",
          .run = setup};
}

}  // namespace brinegate::daemon
