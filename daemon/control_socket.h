// SPDX-License-Identifier: Apache-2.0
// The control socket: a Unix stream socket that only the daemon's own user can open, one JSON
// object a line each way. Bounded in every direction: connections, length of a line, time.
#pragma once

#include <chrono>
#include <cstddef>
#include <filesystem>
#include <functional>
#include <memory>
#include <string>

#include <boost/asio/io_context.hpp>

#include "daemon/engine/request.h"
#include "rules/result.h"

namespace brinegate::daemon {

struct ControlLimits {
  std::size_t line_bytes = largest_local_request;
  std::size_t connections = 32;
  std::chrono::milliseconds idle{30'000};  // without a whole request, or without taking the answer
};

class ControlSocket {
 public:
  // Sends the answer (one JSON object, no newline) to whoever asked, if they are still there.
  using Answer = std::function<void(std::string payload)>;
  // Called on the io_context for each line; the next one of a connection is read after its answer.
  using Requested = std::function<void(std::string line, Answer answer)>;

  // Replaces a socket file left behind: call it with the data folder's lock held.
  static Result<std::unique_ptr<ControlSocket>> listen(boost::asio::io_context& context,
                                                       const std::filesystem::path& file,
                                                       Requested requested,
                                                       ControlLimits limits = {});
  // Closes every connection and removes the file.
  ~ControlSocket();
  ControlSocket(const ControlSocket&) = delete;
  ControlSocket& operator=(const ControlSocket&) = delete;

 private:
  class Server;
  explicit ControlSocket(std::shared_ptr<Server> server);

  std::shared_ptr<Server> server_;
};

}  // namespace brinegate::daemon
