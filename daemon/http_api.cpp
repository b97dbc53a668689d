// SPDX-License-Identifier: Apache-2.0
// See http_api.h.
#include "daemon/http_api.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <exception>
#include <utility>

#include <fmt/format.h>
#include <fmt/ranges.h>
#include <nlohmann/json.hpp>

#include "config/quantity.h"
#include "config/wall_time.h"
#include "daemon/embedded_files.h"
#include "daemon/engine/request.h"
#include "daemon/history_view.h"
#include "daemon/http_batches.h"
#include "daemon/http_library.h"
#include "daemon/record_view.h"
#include "daemon/store_tables.h"

namespace brinegate::daemon {

using Query = std::map<std::string, std::string>;

struct HttpApi::Call {
  const Route& route;
  const HttpRequest& request;
  const Query& query;
  std::string name;  // the free part of the path
  Instant now;
  HttpAnswer answer;
};

namespace {

using namespace std::chrono_literals;

constexpr int asked_at_once = 20;
constexpr Duration asked_every = 1s;
constexpr Duration refresh_every = 2s;
constexpr Duration heartbeat_every = 15s;
constexpr std::size_t most_streams = 64;
constexpr std::size_t most_entries = 1000;
constexpr std::size_t usual_entries = 100;
constexpr const char* description_file = "openapi.json";

// The free part of `path` under `route`; none where they do not match.
std::optional<std::string> free_part(std::string_view route, std::string_view path) {
  const std::size_t brace = route.find('{');
  if (brace == std::string_view::npos) {
    return route == path ? std::optional<std::string>("") : std::nullopt;
  }
  const std::string_view behind = route.substr(route.find('}') + 1);
  if (!path.starts_with(route.substr(0, brace)) || !path.ends_with(behind) ||
      path.size() <= brace + behind.size()) {
    return std::nullopt;
  }
  const std::string_view part = path.substr(brace, path.size() - brace - behind.size());
  return part.find('/') == part.npos ? percent_decoded(part) : std::nullopt;
}

// A parameter that is none of these is a slip that would otherwise go unseen.
std::optional<HttpResponse> refuse_other_parameters(const Query& query,
                                                    std::initializer_list<const char*> known) {
  for (const auto& [name, value] : query) {
    if (std::find(known.begin(), known.end(), name) == known.end()) {
      return problem_response(
          400, fmt::format("unknown parameter '{}': known are {}", name, fmt::join(known, ", ")));
    }
  }
  return std::nullopt;
}

std::string value_of(const Query& query, const std::string& name) {
  const auto found = query.find(name);
  return found == query.end() ? "" : found->second;
}

// A file of the dashboard; none where there is no such one.
std::optional<HttpResponse> dashboard_file(const HttpRequest& request) {
  const std::string_view path = request.path();
  const std::string_view name = path == "/" ? "index.html" : path.substr(1);
  const EmbeddedFile* file = embedded_file(name);
  if (file == nullptr || name == description_file) {
    return std::nullopt;
  }
  HttpResponse response;
  response.type = file->type;
  response.body = request.takes_gzip() ? file->compressed : file->content;
  if (request.takes_gzip()) {
    response.headers.emplace_back("Content-Encoding", "gzip");
  }
  response.headers.emplace_back("Vary", "Accept-Encoding");
  response.headers.emplace_back("Cache-Control", "no-cache");
  return response;
}

// What is posted must be a request.
std::optional<HttpResponse> refuse_posted(const HttpRequest& request, const Query& query) {
  if (auto refused = refuse_other_parameters(query, {})) {
    return refused;
  }
  const std::string_view type = request.header("content-type");
  if (type.substr(0, type.find(';')) != "application/json") {
    return problem_response(415, "send the request as application/json");
  }
  if (const auto parsed = parse_request(request.body); !parsed) {
    return problem_response(400, parsed.error().message);
  }
  return std::nullopt;
}

HttpResponse history_response(const std::filesystem::path& data, const HistoryQuery& query,
                              bool csv) {
  const auto rows = query_history(data, query);
  if (!rows) {
    return problem_response(500, rows.error().message);
  }
  if (!*rows) {
    return problem_response(404, fmt::format("nothing is kept of a probe '{}' of station '{}'",
                                             query.probe, query.station));
  }
  if (csv) {
    HttpResponse response;
    response.type = "text/csv; charset=utf-8";
    response.body = history_csv(**rows);
    return response;
  }
  return json_response(history_view(query, **rows));
}

Result<RecordQuery> record_query(const Query& query) {
  RecordQuery record{value_of(query, "station"), {}, usual_entries};
  if (query.contains("kind")) {
    record.kinds.push_back(value_of(query, "kind"));
  }
  if (query.contains("limit")) {
    const std::string text = value_of(query, "limit");
    const char* const end = text.data() + text.size();
    const auto [read_to, failure] = std::from_chars(text.data(), end, record.limit);
    if (failure != std::errc() || read_to != end || record.limit < 1 ||
        record.limit > most_entries) {
      return Error{fmt::format("'limit' must be a whole number from 1 to {}", most_entries)};
    }
  }
  return record;
}

HttpResponse record_response(const std::filesystem::path& data, const RecordQuery& query) {
  const auto rows = query_record(data, query);
  if (!rows) {
    return problem_response(500, rows.error().message);
  }
  Json entries = Json::array();
  for (const RecordRow& row : *rows) {
    entries.push_back(record_view(row));
  }
  return json_response({{"record", entries}});
}

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

HttpApi::HttpApi(HttpAccess access, std::vector<std::string> stations, std::filesystem::path data,
                 HttpOutside outside)
    : access_(std::move(access)),
      stations_(std::move(stations)),
      data_(std::move(data)),
      outside_(std::move(outside)),
      asked_(asked_at_once, asked_every) {}

std::span<const HttpApi::Route> HttpApi::routes() {
  static constexpr std::array all{
      Route{"GET", "/api/v1/stations", Right::Read, &HttpApi::get_stations},
      Route{"GET", "/api/v1/stations/{station}", Right::Read, &HttpApi::get_station},
      Route{"POST", "/api/v1/requests", Right::Ask, &HttpApi::post_request},
      Route{"GET", "/api/v1/record", Right::Read, &HttpApi::get_record},
      Route{"GET", "/api/v1/batches", Right::Read, &HttpApi::get_batches},
      Route{"GET", "/api/v1/batches/{batch}", Right::Read, &HttpApi::get_batch},
      Route{"GET", "/api/v1/readings", Right::Read, &HttpApi::get_readings},
      Route{"GET", "/api/v1/lots", Right::Read, &HttpApi::get_library, "lot list"},
      Route{"GET", "/api/v1/lots/{lot}", Right::Read, &HttpApi::get_library, "lot show"},
      Route{"GET", "/api/v1/comparison", Right::Read, &HttpApi::get_library, "lot compare"},
      Route{"GET", "/api/v1/tanks", Right::Read, &HttpApi::get_library, "tank list"},
      Route{"GET", "/api/v1/tanks/{tank}", Right::Read, &HttpApi::get_library, "tank show"},
      Route{"GET", "/api/v1/tanks/{tank}/review", Right::Read, &HttpApi::get_library,
            "tank review"},
      Route{"GET", "/api/v1/tanks/{tank}/forecast", Right::Read, &HttpApi::get_library,
            "tank forecast"},
      Route{"GET", "/api/v1/tanks/{tank}/ranking", Right::Read, &HttpApi::get_library, "lot rank"},
      Route{"POST", "/api/v1/preview", Right::Read, &HttpApi::preview},
      Route{"GET", "/api/v1/stream", Right::Read, &HttpApi::get_stream},
      Route{"GET", "/api/v1/openapi.json", Right::Anybody, &HttpApi::get_description},
      Route{"GET", "/healthz", Right::Anybody, &HttpApi::get_health},
      Route{"GET", "/metrics", Right::Read, &HttpApi::get_metrics},
  };
  return all;
}

void HttpApi::handle(const HttpRequest& request, Instant now, const HttpAnswer& answer) {
  try {
    find_route(request, now, answer);
  } catch (const std::exception& fault) {
    answer(own_fault(fault));
  }
}

void HttpApi::find_route(const HttpRequest& request, Instant now, const HttpAnswer& answer) {
  if (auto refused = access_.refuse_stranger(request)) {
    return answer(std::move(*refused));
  }
  const auto query = request.query();
  if (!query || !request.path().starts_with('/')) {
    return answer(problem_response(
        400, query ? "the address must begin with /" : "the address's query cannot be read"));
  }
  const std::string_view method =
      request.method == "HEAD" ? std::string_view("GET") : request.method;
  std::vector<std::string_view> methods;
  for (const Route& route : routes()) {
    const auto part = free_part(route.path, request.path());
    if (part && route.method == method) {
      return run(route, {route, request, *query, *part, now, answer});
    }
    if (part) {
      methods.push_back(route.method);
    }
  }
  auto file = dashboard_file(request);
  if (file && method == "GET") {
    return answer(std::move(*file));
  }
  if (file || !methods.empty()) {
    HttpResponse refused = problem_response(405, "this address does not take this method");
    refused.headers.emplace_back("Allow", file || methods.front() == "GET" ? "GET, HEAD" : "POST");
    return answer(std::move(refused));
  }
  answer(problem_response(404, "there is nothing at this address"));
}

void HttpApi::run(const Route& route, const Call& call) {
  auto refused = route.right == Right::Ask    ? access_.refuse_asker(call.request)
                 : route.right == Right::Read ? access_.refuse_reader(call.request)
                                              : std::nullopt;
  if (refused) {
    return call.answer(std::move(*refused));
  }
  // Nothing of this may be shown again when it is no longer so.
  const HttpAnswer fresh = [answer = call.answer](HttpResponse response) {
    response.headers.emplace_back("Cache-Control", "no-store");
    answer(std::move(response));
  };
  (this->*route.run)({route, call.request, call.query, call.name, call.now, fresh});
}

bool HttpApi::knows(const std::string& station) const {
  return std::find(stations_.begin(), stations_.end(), station) != stations_.end();
}

void HttpApi::ask_status(const std::string& station, Stations stations, HttpAnswer failed) {
  if (!station.empty() && !knows(station)) {
    return failed(problem_response(404, fmt::format("there is no station '{}': known are {}",
                                                    station, fmt::join(stations_, ", "))));
  }
  const Json request = {{"do", "status"}, {"station", station}};
  outside_.ask(
      Origin::Reader, dump(request),
      [stations = std::move(stations), failed = std::move(failed)](const std::string& text) {
        const Json status = Json::parse(text, nullptr, false);
        if (status.is_object() && status.value("ok", false)) {
          stations(status);
        } else {
          failed(problem_response(503, "the daemon has too much to do: ask again later"));
        }
      });
}

void HttpApi::get_stations(const Call& call) {
  if (auto refused = refuse_other_parameters(call.query, {})) {
    return call.answer(std::move(*refused));
  }
  ask_status(
      "",
      [answer = call.answer](const Json& status) {
        answer(json_response({{"site", status.at("site")}, {"stations", status.at("stations")}}));
      },
      call.answer);
}

void HttpApi::get_station(const Call& call) {
  if (auto refused = refuse_other_parameters(call.query, {})) {
    return call.answer(std::move(*refused));
  }
  ask_status(
      call.name,
      [answer = call.answer](const Json& status) {
        answer(json_response(status.at("stations").at(0)));
      },
      call.answer);
}

// S13: what a holder of the token may ask for is decided by the engine; a browser cannot send this
// type from another origin without asking first, and nobody answers that question.
void HttpApi::post_request(const Call& call) {
  if (auto refused = refuse_posted(call.request, call.query)) {
    return call.answer(std::move(*refused));
  }
  if (!asked_.allows(call.now.mono)) {
    HttpResponse refused = problem_response(429, "too many requests: ask again in a while");
    refused.headers.emplace_back("Retry-After", "1");
    return call.answer(std::move(refused));
  }
  outside_.ask(Origin::Token, call.request.body, [answer = call.answer](const std::string& text) {
    const Json reply = Json::parse(text, nullptr, false);
    if (!reply.is_object()) {
      return answer(problem_response(500, "the daemon's answer cannot be read"));
    }
    if (reply.value("ok", false)) {
      return answer(json_response(reply));
    }
    answer(problem_response(
        409, reply.value("message", ""),
        {{"id", reply.value("id", "")}, {"reasons", reply.value("reasons", Json::array())}}));
  });
}

void HttpApi::preview(const Call& call) {
  if (auto refused = refuse_posted(call.request, call.query)) {
    return call.answer(std::move(*refused));
  }
  look_up([body = call.request.body] { return preview_response(*parse_request(body)); },
          call.answer);
}

void HttpApi::look_up(std::function<HttpResponse()> work, const HttpAnswer& answer) {
  if (!outside_.look_up([work = std::move(work)] { return unless_it_fails(work); }, answer)) {
    answer(problem_response(503, "too many look-ups wait: ask again later"));
  }
}

void HttpApi::get_record(const Call& call) {
  if (auto refused = refuse_other_parameters(call.query, {"station", "kind", "limit"})) {
    return call.answer(std::move(*refused));
  }
  const auto query = record_query(call.query);
  if (!query) {
    return call.answer(problem_response(400, query.error().message));
  }
  look_up([data = data_, asked = *query] { return record_response(data, asked); }, call.answer);
}

void HttpApi::get_batches(const Call& call) {
  if (auto refused = refuse_other_parameters(call.query, {})) {
    return call.answer(std::move(*refused));
  }
  look_up([data = data_] { return batches_response(data); }, call.answer);
}

void HttpApi::get_batch(const Call& call) {
  if (auto refused = refuse_other_parameters(call.query, {})) {
    return call.answer(std::move(*refused));
  }
  look_up([data = data_, id = call.name] { return batch_response(data, id); }, call.answer);
}

void HttpApi::get_readings(const Call& call) {
  if (auto refused =
          refuse_other_parameters(call.query, {"station", "probe", "from", "to", "every", "as"})) {
    return call.answer(std::move(*refused));
  }
  const auto query = read_history_query(call.query, call.now.wall);
  if (!query) {
    return call.answer(problem_response(400, query.error().message));
  }
  const std::string as = call.query.contains("as") ? value_of(call.query, "as") : "json";
  if (as != "json" && as != "csv") {
    return call.answer(problem_response(400, "'as' is either json or csv"));
  }
  look_up([data = data_, asked = *query,
           csv = as == "csv"] { return history_response(data, asked, csv); },
          call.answer);
}

void HttpApi::get_library(const Call& call) {
  const std::string_view path = call.route.path;
  const std::size_t brace = path.find('{');
  const std::string_view key =
      brace == path.npos ? "" : path.substr(brace + 1, path.find('}') - brace - 1);
  const auto question = library_question(call.route.question, key, call.name, call.query);
  if (!question) {
    return call.answer(problem_response(400, question.error().message));
  }
  look_up([data = data_, asked = *question,
           now = call.now.wall] { return library_response(data, asked, now); },
          call.answer);
}

void HttpApi::get_stream(const Call& call) {
  if (auto refused = refuse_other_parameters(call.query, {"station"})) {
    return call.answer(std::move(*refused));
  }
  if (streams_.size() >= most_streams) {
    return call.answer(problem_response(503, "too many watch already: try again later"));
  }
  const std::string station = value_of(call.query, "station");
  ask_status(
      station,
      [this, station, answer = call.answer](const Json& status) {
        HttpResponse response;
        response.type = "text/event-stream";
        response.body = "retry: 2000\n\n";
        for (const Json& view : status.at("stations")) {
          response.body += station_event(dump(view));
        }
        response.opened = [this, station](std::shared_ptr<HttpStream> stream) {
          streams_.add(std::move(stream), station);
        };
        answer(std::move(response));
      },
      call.answer);
}

void HttpApi::get_health(const Call& call) {
  call.answer(json_response({{"status", "ok"}}));
}

void HttpApi::get_metrics(const Call& call) {
  ask_status(
      "",
      [this, answer = call.answer](const Json& status) {
        HttpResponse response;
        response.type = openmetrics_type;
        response.body =
            metrics_text(status.at("stations"), outside_.surroundings(), record_written_);
        answer(std::move(response));
      },
      call.answer);
}

void HttpApi::get_description(const Call& call) {
  HttpResponse response;
  response.body = embedded_file(description_file)->content;
  call.answer(std::move(response));
}

void HttpApi::tick(MonoTime now) {
  if (streams_.size() == 0) {
    return;
  }
  if (!heartbeat_ || now - *heartbeat_ >= heartbeat_every) {
    heartbeat_ = now;
    streams_.heartbeat();
  }
  if (refresh_after_ && now < *refresh_after_) {
    return;
  }
  refresh_after_ = now + refresh_every;
  ask_status(
      "",
      [this](const Json& status) {
        for (const Json& view : status.at("stations")) {
          streams_.tell(view.at("station").get<std::string>(), dump(view));
        }
      },
      [](const HttpResponse&) {});
}

void HttpApi::station_changed(const std::string& station, const std::string& view) {
  if (streams_.size() > 0) {
    streams_.tell(station, view);
  }
}

}  // namespace brinegate::daemon
