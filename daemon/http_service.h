// SPDX-License-Identifier: Apache-2.0
// The HTTP server on the shell's loop: sockets, what is answered, and a thread for look-ups.
#pragma once

#include <memory>

#include <boost/asio/io_context.hpp>
#include <boost/asio/steady_timer.hpp>

#include "config/model.h"
#include "daemon/http_api.h"
#include "daemon/http_server.h"
#include "daemon/query_thread.h"
#include "rules/result.h"

namespace brinegate::daemon {

class HttpService {
 public:
  using Ask = decltype(HttpOutside::ask);
  using Look = decltype(HttpOutside::surroundings);

  // `site` has an [http]. `ask` and `look` are called on the context's thread.
  static Result<std::unique_ptr<HttpService>> start(boost::asio::io_context& context,
                                                    const config::Site& site, Ask ask, Look look);

  HttpApi& api() { return *api_; }
  // Hangs up on everybody. It may still be told things and answered.
  void close();

 private:
  explicit HttpService(boost::asio::io_context& context) : context_(context), tick_(context) {}
  bool look_up(std::function<HttpResponse()> work, HttpAnswer answer);
  void tick_later();

  boost::asio::io_context& context_;
  boost::asio::steady_timer tick_;
  std::unique_ptr<HttpApi> api_;
  std::unique_ptr<HttpServer> server_;
  QueryThread queries_;
};

}  // namespace brinegate::daemon
