// SPDX-License-Identifier: Apache-2.0
#include "daemon/library_access.h"

#include <algorithm>
#include <array>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <iterator>
#include <utility>

#include <fmt/format.h>
#include <fmt/ostream.h>
#include <nlohmann/json.hpp>

#include "config/chemistry/tank_text.h"
#include "config/problem.h"
#include "daemon/chemistry_text.h"
#include "daemon/command_options.h"
#include "daemon/data_lock.h"
#include "daemon/engine/library_question.h"
#include "daemon/engine/library_request.h"
#include "daemon/engine/lot_view.h"
#include "daemon/store_tables.h"
#include "daemon/stored_library.h"
#include "drivers/clock.h"

namespace brinegate::daemon {
namespace {

void tell(const std::string& message, Console& console) {
  fmt::print(console.err, "brinegate: {}\n", message);
}

bool has_extension_of_file(std::string_view name) {
  constexpr std::array<std::string_view, 3> extensions{".json", ".csv", ".txt"};
  return std::any_of(extensions.begin(), extensions.end(),
                     [name](std::string_view each) { return name.ends_with(each); });
}

bool is_file(std::string_view name) {
  const bool may_be = has_extension_of_file(name) || name.find('/') != std::string_view::npos;
  std::error_code ignored;
  return may_be && std::filesystem::is_regular_file(name, ignored);
}

// What the daemon would have done; the lock is held.
Result<Json> change_stored(const std::filesystem::path& data, const Request& request) {
  auto writer = RecordWriter::open(data);
  if (!writer) {
    return writer.error();
  }
  auto library = stored_library(data);
  if (!library) {
    return library.error();
  }
  Library changed = std::move(library).value();
  Append append;
  Json answer = apply_library_request(changed, request, append, drivers::wall_now());
  if (append.entries.empty() && append.states.empty()) {
    return answer;
  }
  RecordWriter record = std::move(writer).value();
  if (const auto written = record.append(append); !written) {
    return written.error();
  }
  return answer;
}

}  // namespace

std::optional<std::string> read_file(std::string_view path, Console& console) {
  std::ifstream file;
  if (path != "-") {
    file.open(std::filesystem::path(path));
  }
  std::istream& from = path == "-" ? std::cin : file;
  std::string text(config::largest_analysis + 1, '\0');
  from.read(text.data(), static_cast<std::streamsize>(text.size()));
  if (from.bad() || (path != "-" && !file.is_open())) {
    tell(fmt::format("cannot read the file {}", path), console);
    return std::nullopt;
  }
  text.resize(static_cast<std::size_t>(from.gcount()));
  if (text.size() <= config::largest_analysis) {
    return text;
  }
  tell(fmt::format("{} is longer than {} kB: that is no analysis", path,
                   config::largest_analysis / 1024),
       console);
  return std::nullopt;
}

void tell_unread(const std::vector<config::UnreadLine>& lines, Console& console) {
  if (!lines.empty()) {
    console.err << "Passed over:\n";
  }
  for (const config::UnreadLine& each : lines) {
    fmt::print(console.err, "  line {}: {} ({})\n", each.line, each.text, each.why);
  }
}

void tell_problems(const std::vector<config::Problem>& problems, Console& console) {
  for (const config::Problem& problem : problems) {
    fmt::print(console.err, "{}\n", config::render(problem));
  }
}

ExitStatus tell_added(const Arguments& arguments, const Answer& answer, const Assay& assay,
                      Console& console) {
  if (answer.status != ExitStatus::Done) {
    return tell_answer(arguments, answer, console);
  }
  Json with_findings = Json::parse(answer.body);
  with_findings["findings"] = findings_view(assay);
  const ExitStatus status = tell_answer(arguments, {answer.status, with_findings.dump()}, console);
  if (!arguments.has(json_option.name)) {
    console.out << findings_text(with_findings["findings"]);
  }
  return status;
}

void LibraryAccess::refuse(ExitStatus status, std::string_view why) {
  tell(std::string(why), console_);
  status_ = status;
}

const Library* LibraryAccess::on_record() {
  if (library_) {
    return &*library_;
  }
  const auto data = find_data_folder(arguments_, console_);
  if (!data) {
    status_ = ExitStatus::Usage;
    return nullptr;
  }
  auto library = stored_library(*data);
  if (!library) {
    refuse(ExitStatus::Refused, library.error().message);
    return nullptr;
  }
  library_ = std::move(library).value();
  return &*library_;
}

std::optional<Lot> LibraryAccess::lot_of_file(std::string_view path) {
  const auto text = read_file(path, console_);
  if (!text) {
    status_ = ExitStatus::Usage;
    return std::nullopt;
  }
  auto read = config::read_lot(*text, std::string(path), {});
  if (!read.lot) {
    // Nothing is stored: what it is called matters little.
    config::LotParticulars particulars;
    particulars.name = std::filesystem::path(path).stem().string();
    if (auto named = config::read_lot(*text, std::string(path), particulars); named.lot) {
      read = std::move(named);
    }
  }
  tell_unread(read.unread, console_);
  if (!read.lot) {
    tell_problems(read.errors, console_);
    status_ = ExitStatus::Usage;
  }
  return std::move(read.lot);
}

std::optional<Lot> LibraryAccess::lot(std::string_view name_or_file) {
  if (is_file(name_or_file)) {
    return lot_of_file(name_or_file);
  }
  if (has_extension_of_file(name_or_file)) {
    refuse(ExitStatus::Usage, fmt::format("there is no file {}", name_or_file));
    return std::nullopt;
  }
  const Library* const library = on_record();
  if (library == nullptr) {
    return std::nullopt;
  }
  const auto lot = lot_named(*library, name_or_file);
  if (!lot) {
    refuse(ExitStatus::Usage, lot.error().message);
    return std::nullopt;
  }
  return lot.value();
}

std::optional<std::vector<Lot>> LibraryAccess::lots(
    const std::vector<std::string_view>& names_or_files) {
  std::vector<Lot> all;
  for (const std::string_view each : names_or_files) {
    if (auto one = lot(each)) {
      all.push_back(std::move(*one));
    }
  }
  return status_ == ExitStatus::Done ? std::optional(std::move(all)) : std::nullopt;
}

std::optional<Tank> LibraryAccess::tank_of_file(std::string_view path) {
  const auto text = read_file(path, console_);
  if (!text) {
    status_ = ExitStatus::Usage;
    return std::nullopt;
  }
  auto read = config::read_tank(*text, std::string(path));
  if (!read.tank) {
    tell_problems(read.errors, console_);
    status_ = ExitStatus::Usage;
  }
  return std::move(read.tank);
}

bool LibraryAccess::add_tests(Tank& tank) {
  for (const std::string_view path : arguments_.all(test_option.name)) {
    const auto text = read_file(path, console_);
    if (!text) {
      status_ = ExitStatus::Usage;
      return false;
    }
    auto read = config::read_water_test(*text, std::string(path), {});
    tell_unread(read.unread, console_);
    if (!read.test) {
      tell_problems(read.errors, console_);
      status_ = ExitStatus::Usage;
      return false;
    }
    tank.tests.push_back(std::move(*read.test));
  }
  std::stable_sort(tank.tests.begin(), tank.tests.end(),
                   [](const WaterTest& a, const WaterTest& b) { return a.at < b.at; });
  return true;
}

std::optional<Tank> LibraryAccess::tank(std::string_view name_or_file) {
  std::optional<Tank> found;
  if (is_file(name_or_file)) {
    found = tank_of_file(name_or_file);
  } else if (has_extension_of_file(name_or_file)) {
    refuse(ExitStatus::Usage, fmt::format("there is no file {}", name_or_file));
  } else if (const Library* const library = on_record()) {
    const auto tank = tank_named(*library, name_or_file);
    if (tank) {
      found = tank.value();
    } else {
      refuse(ExitStatus::Usage, tank.error().message);
    }
  }
  if (found && !add_tests(*found)) {
    return std::nullopt;
  }
  return found;
}

Answer change_library(const Arguments& arguments, nlohmann::json request, Console& console) {
  request["id"] = new_request_id();
  const std::string line = request.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace);
  const auto parsed = parse_request(line, largest_local_request);
  if (!parsed) {
    tell(parsed.error().message, console);
    return {ExitStatus::Usage, {}};
  }
  const auto data = find_data_folder(arguments, console);
  if (!data) {
    return {ExitStatus::Usage, {}};
  }
  const auto lock = DataLock::take(*data);
  if (!lock) {
    return ask(arguments, request, console);
  }
  const auto answer = change_stored(*data, *parsed);
  if (!answer) {
    tell(answer.error().message, console);
    return {ExitStatus::Refused, {}};
  }
  return told(answer->dump(), console);
}

}  // namespace brinegate::daemon
