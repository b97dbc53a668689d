// SPDX-License-Identifier: Apache-2.0
// HTTP/1.1 on sockets. Bounded in every direction: connections, sizes, and time for whoever sends
// or takes slowly.
#pragma once

#include <chrono>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <memory>
#include <string>

#include <boost/asio/io_context.hpp>

#include "daemon/http_message.h"
#include "rules/result.h"

namespace brinegate::daemon {

struct HttpLimits {
  std::size_t connections = 128;
  std::uint32_t header_bytes = 8 * 1024;
  std::uint64_t body_bytes = std::uint64_t{16} * 1024;
  std::size_t unsent_bytes = std::size_t{1024} * 1024;  // of an answer that stays open
  std::chrono::milliseconds request_within{15'000};     // also how long a connection may idle
  std::chrono::milliseconds answer_within{10'000};
  std::chrono::milliseconds taken_within{20'000};  // each part of an answer, by its reader
};

class HttpServer {
 public:
  // Called on the io_context; the next request of a connection is read after its answer.
  using Requested = std::function<void(HttpRequest request, HttpAnswer answer)>;

  // `address` is numeric.
  static Result<std::unique_ptr<HttpServer>> listen(boost::asio::io_context& context,
                                                    const std::string& address, std::uint16_t port,
                                                    Requested requested, HttpLimits limits = {});
  // Closes every connection.
  ~HttpServer();
  HttpServer(const HttpServer&) = delete;
  HttpServer& operator=(const HttpServer&) = delete;

  [[nodiscard]] std::uint16_t port() const;

 private:
  class Listener;
  explicit HttpServer(std::shared_ptr<Listener> listener);

  std::shared_ptr<Listener> listener_;
};

}  // namespace brinegate::daemon
