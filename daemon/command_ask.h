// SPDX-License-Identifier: Apache-2.0
// Asking the running daemon from the command line: where it is, one request, one answer.
#pragma once

#include <filesystem>
#include <initializer_list>
#include <optional>
#include <string>
#include <string_view>

#include <nlohmann/json_fwd.hpp>

#include "config/model.h"
#include "daemon/command_line.h"
#include "rules/result.h"

namespace brinegate::daemon {

// By --config, else $BRINEGATE_CONFIG, else the installed place.
std::filesystem::path configuration_path(const Arguments& arguments);

// That configuration; where it cannot be used, that is said and nothing comes back.
std::optional<config::Site> find_site(const Arguments& arguments, Console& console);
// Its data folder.
std::optional<std::filesystem::path> find_data_folder(const Arguments& arguments, Console& console);

// An id that no other request has.
std::string new_request_id();

struct Answer {
  ExitStatus status = ExitStatus::Unreachable;
  std::string body;  // JSON, where the daemon answered
};

// Sends one request ("do", "station", ...) and waits for the answer. Why not is said on the error
// stream.
Answer ask(const Arguments& arguments, const nlohmann::json& request, Console& console);
// What such an answer comes to; a refusal is said on the error stream.
Answer told(const std::string& body, Console& console);

// The same for an act: prints the daemon's message, or its JSON with --json, and its reasons on the
// error stream where it refused.
ExitStatus ask_and_tell(const Arguments& arguments, nlohmann::json request, Console& console);
// The second half of it.
ExitStatus tell_answer(const Arguments& arguments, const Answer& answer, Console& console);

// Puts options into a request under the same name, dashes turned into underscores.
void put_options(const Arguments& arguments, std::initializer_list<std::string_view> names,
                 nlohmann::json& request);

}  // namespace brinegate::daemon
