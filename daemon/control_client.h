// SPDX-License-Identifier: Apache-2.0
// Asks the running daemon one thing over its control socket and waits for the answer: the command
// line's side.
#pragma once

#include <chrono>
#include <filesystem>
#include <string>
#include <string_view>

#include "rules/result.h"

namespace brinegate::daemon {

std::filesystem::path control_socket_file(const std::filesystem::path& data);

// `request` is one JSON object on one line; so is the answer. Error: the daemon could not be
// reached or did not answer in time, said in a sentence for people.
Result<std::string> ask_daemon(const std::filesystem::path& socket, std::string_view request,
                               std::chrono::milliseconds timeout);

}  // namespace brinegate::daemon
