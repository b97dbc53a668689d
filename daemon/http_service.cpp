// SPDX-License-Identifier: Apache-2.0
// See http_service.h.
#include "daemon/http_service.h"

#include <string>
#include <utility>
#include <vector>

#include <boost/asio/post.hpp>

#include "drivers/clock.h"

namespace brinegate::daemon {
namespace {

constexpr auto tick_every = std::chrono::seconds(1);

}  // namespace

Result<std::unique_ptr<HttpService>> HttpService::start(boost::asio::io_context& context,
                                                        const config::Site& site, Ask ask,
                                                        Look look) {
  std::string token;
  if (!site.http->token_file.empty()) {
    Result<std::string> read = read_token(site.http->token_file);
    if (!read.ok()) {
      return read.error();
    }
    token = std::move(read).value();
  }
  std::vector<std::string> stations;
  for (const config::Station& station : site.stations) {
    stations.push_back(station.spec.name);
  }
  std::unique_ptr<HttpService> service(new HttpService(context));
  HttpService& self = *service;
  self.api_ = std::make_unique<HttpApi>(
      HttpAccess(*site.http, std::move(token)), std::move(stations), site.data,
      HttpOutside{std::move(ask),
                  [&self](std::function<HttpResponse()> work, HttpAnswer answer) {
                    return self.look_up(std::move(work), std::move(answer));
                  },
                  std::move(look)});
  Result<std::unique_ptr<HttpServer>> server = HttpServer::listen(
      context, site.http->address, site.http->port,
      [&self](const HttpRequest& request, HttpAnswer answer) {
        self.api_->handle(request, {drivers::monotonic_now(), drivers::wall_now()},
                          std::move(answer));
      });
  if (!server.ok()) {
    return server.error();
  }
  self.server_ = std::move(server).value();
  self.tick_later();
  return service;
}

void HttpService::close() {
  tick_.cancel();
  api_->close();
  server_.reset();
}

bool HttpService::look_up(std::function<HttpResponse()> work, HttpAnswer answer) {
  return queries_.run([this, work = std::move(work), answer = std::move(answer)] {
    boost::asio::post(context_, [answer, response = work()] { answer(response); });
  });
}

void HttpService::tick_later() {
  tick_.expires_after(tick_every);
  tick_.async_wait([this](const boost::system::error_code& cancelled) {
    if (!cancelled) {
      api_->tick(drivers::monotonic_now());
      tick_later();
    }
  });
}

}  // namespace brinegate::daemon
