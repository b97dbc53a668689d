// SPDX-License-Identifier: Apache-2.0
// Command lines in, answers out: on stdin and on a Unix socket that only its owner may use.
#pragma once

#include <functional>
#include <memory>
#include <string>
#include <string_view>

#include <boost/asio/io_context.hpp>

#include "rules/result.h"

namespace brinegate::sim {

// Answers one line, without line ends.
using CommandLine = std::function<std::string(std::string_view line)>;

// A running source of commands; ends when destroyed (before its io_context).
class Control {
 public:
  virtual ~Control() = default;
};

// At its end stdin is left alone and the rig goes on. A file or /dev/null is read at once.
std::unique_ptr<Control> take_commands_from_stdin(boost::asio::io_context& loop,
                                                  CommandLine command);

// At most eight clients. Replaces a socket that nobody listens on any more, and removes its own.
Result<std::unique_ptr<Control>> take_commands_from_socket(boost::asio::io_context& loop,
                                                           const std::string& path,
                                                           CommandLine command);

}  // namespace brinegate::sim
