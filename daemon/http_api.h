// SPDX-License-Identifier: Apache-2.0
// What is answered over HTTP: the dashboard's files, the stations, the record and the history, the
// metrics, and requests to the engine, which hold to the same rules as those over the broker. Owns
// no socket, thread or clock. Described in daemon/openapi.json, which the tests hold against it.
#pragma once

#include <filesystem>
#include <functional>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/engine/events.h"
#include "daemon/engine/rate_limit.h"
#include "daemon/event_streams.h"
#include "daemon/http_access.h"
#include "daemon/http_message.h"
#include "daemon/metrics.h"
#include "rules/time.h"

namespace brinegate::daemon {

// What is asked of the rest of the daemon.
struct HttpOutside {
  // The engine's answer to one request (request.h), as JSON; may never come.
  std::function<void(Origin origin, std::string payload,
                     std::function<void(const std::string&)> answer)>
      ask;
  // Does what may take its time, then answers, on another thread's time. False: too much waits.
  std::function<bool(std::function<HttpResponse()> look_up, HttpAnswer answer)> look_up;
  std::function<Surroundings()> surroundings;
};

class HttpApi {
 public:
  HttpApi(HttpAccess access, std::vector<std::string> stations, std::filesystem::path data,
          HttpOutside outside);

  // Answers in any case, or has it answered; throws nothing that a request can bring about.
  void handle(const HttpRequest& request, Instant now, const HttpAnswer& answer);
  // About once a second: tells those who watch what moved, and that the line holds.
  void tick(MonoTime now);
  // `view` as of station_view(): told at once.
  void station_changed(const std::string& station, const std::string& view);
  void record_written(WallTime at) { record_written_ = at; }
  void close() { streams_.close(); }

  struct Call;
  enum class Right { Anybody, Read, Ask };
  struct Route {
    std::string_view method;
    std::string_view path;  // with {name} where a part is free
    Right right;
    void (HttpApi::*run)(const Call& call);
    std::string_view question = "";  // to the library: "lot show"
  };
  static std::span<const Route> routes();

 private:
  void find_route(const HttpRequest& request, Instant now, const HttpAnswer& answer);
  void run(const Route& route, const Call& call);
  void get_stations(const Call& call);
  void get_station(const Call& call);
  void post_request(const Call& call);
  void get_record(const Call& call);
  void get_batches(const Call& call);
  void get_batch(const Call& call);
  void get_readings(const Call& call);
  void get_library(const Call& call);
  void preview(const Call& call);
  void get_stream(const Call& call);
  void get_health(const Call& call);
  void get_metrics(const Call& call);
  void get_description(const Call& call);

  using Stations = std::function<void(const Json& status)>;
  // The engine's answer to "status" of one station, or (empty) all; else a problem to `failed`.
  void ask_status(const std::string& station, Stations stations, HttpAnswer failed);
  void look_up(std::function<HttpResponse()> work, const HttpAnswer& answer);
  [[nodiscard]] bool knows(const std::string& station) const;

  HttpAccess access_;
  std::vector<std::string> stations_;
  std::filesystem::path data_;
  HttpOutside outside_;
  EventStreams streams_;
  RateLimit asked_;
  std::optional<WallTime> record_written_;
  std::optional<MonoTime> refresh_after_;
  std::optional<MonoTime> heartbeat_;
};

}  // namespace brinegate::daemon
