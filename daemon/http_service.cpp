// SPDX-License-Identifier: Apache-2.0
// See http_service.h.
#include "daemon/http_service.h"

#include <exception>
#include <string>
#include <utility>
#include <vector>

#include <boost/asio/post.hpp>
#include <fmt/format.h>

#include "drivers/clock.h"

namespace brinegate::daemon {
namespace {

constexpr auto tick_every = std::chrono::seconds(1);

// Nothing that only looks may end what decides: one answer is lost, and says so.
HttpResponse own_fault(const std::exception& fault) {
  return problem_response(
      500,
      fmt::format("this cannot be answered, by a fault of the daemon's own: {}", fault.what()));
}

HttpResponse unless_it_fails(const std::function<HttpResponse()>& work) {
  try {
    return work();
  } catch (const std::exception& fault) {
    return own_fault(fault);
  }
}

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
  Result<std::unique_ptr<HttpServer>> server =
      HttpServer::listen(context, site.http->address, site.http->port,
                         [&self](const HttpRequest& request, const HttpAnswer& answer) {
                           self.handle(request, answer);
                         });
  if (!server.ok()) {
    return server.error();
  }
  self.server_ = std::move(server).value();
  self.tick_later();
  return service;
}

void HttpService::handle(const HttpRequest& request, const HttpAnswer& answer) {
  try {
    api_->handle(request, {drivers::monotonic_now(), drivers::wall_now()}, answer);
  } catch (const std::exception& fault) {
    answer(own_fault(fault));
  }
}

void HttpService::close() {
  tick_.cancel();
  api_->close();
  server_.reset();
}

bool HttpService::look_up(std::function<HttpResponse()> work, HttpAnswer answer) {
  return queries_.run([this, work = std::move(work), answer = std::move(answer)] {
    boost::asio::post(context_, [answer, response = unless_it_fails(work)] { answer(response); });
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
