// SPDX-License-Identifier: Apache-2.0
// Lots and tanks for the commands: what is on record, read from the disk whether or not the daemon
// runs, and files in their place, so that in a shop nothing needs to be stored first. What changes
// the record goes through the running daemon; where none runs, the data folder's lock is taken and
// the same is done here.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <nlohmann/json_fwd.hpp>

#include "config/chemistry/lot_text.h"
#include "daemon/command_ask.h"
#include "daemon/command_line.h"
#include "daemon/engine/library.h"

namespace brinegate::daemon {

// The text of a person's file, "-" for the standard input. Why not is said on the error stream.
std::optional<std::string> read_file(std::string_view path, Console& console);

// Says on the error stream which lines of a table were passed over, and why.
void tell_unread(const std::vector<config::UnreadLine>& lines, Console& console);

void tell_problems(const std::vector<config::Problem>& problems, Console& console);
// What came of adding an analysis, with what cannot be right about it.
ExitStatus tell_added(const Arguments& arguments, const Answer& answer, const Assay& assay,
                      Console& console);

// What is wrong is said on the error stream, and status() says what that comes to.
class LibraryAccess {
 public:
  LibraryAccess(const Arguments& arguments, Console& console)
      : arguments_(arguments), console_(console) {}

  // "H-2291" or "H-2291/1" on record, or a file of an analysis.
  std::optional<Lot> lot(std::string_view name_or_file);
  std::optional<std::vector<Lot>> lots(const std::vector<std::string_view>& names_or_files);
  // With the tests of the files given with --test, which are not stored.
  std::optional<Tank> tank(std::string_view name_or_file);
  // All that is on record; null where it cannot be read.
  const Library* on_record();

  [[nodiscard]] ExitStatus status() const { return status_; }

 private:
  std::optional<Lot> lot_of_file(std::string_view path);
  std::optional<Tank> tank_of_file(std::string_view path);
  bool add_tests(Tank& tank);
  void refuse(ExitStatus status, std::string_view why);

  const Arguments& arguments_;
  Console& console_;
  std::optional<Library> library_;
  ExitStatus status_ = ExitStatus::Done;
};

inline constexpr Option test_option{
    "test", "FILE", "a water test of the tank, counted with those on record but not stored", false,
    true};

// Changes the record by a request that concerns the library (daemon/engine/library_request.h).
Answer change_library(const Arguments& arguments, nlohmann::json request, Console& console);

}  // namespace brinegate::daemon
