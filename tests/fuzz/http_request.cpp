// SPDX-License-Identifier: Apache-2.0
// See http_request.h.
#include "tests/fuzz/http_request.h"

#include <algorithm>
#include <array>
#include <cctype>
#include <stdexcept>
#include <utility>
#include <vector>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "daemon/engine/library_request.h"
#include "daemon/engine/request.h"
#include "daemon/history_tables.h"
#include "daemon/http_api.h"
#include "daemon/store_tables.h"
#include "tests/config/cellar.h"
#include "tests/temporary_folder.h"

namespace brinegate::fuzz {
namespace {

using daemon::HttpRequest;
using daemon::HttpResponse;
using daemon::Json;
using daemon::Origin;

constexpr const char* token = "an-invented-token-of-32-letters";
constexpr const char* host = "cellar.example";
const Instant now{MonoTime(std::chrono::hours(1000)),
                  WallTime(std::chrono::seconds(1'790'000'000))};
constexpr const char* status = R"({"id": "", "ok": true, "site": "cellar",
  "stations": [{"station": "mixer", "phase": "proven", "gate": "shut",
    "checks": [{"id": "no-leak", "verdict": "met", "waived": null}],
    "readings": {"bath": {"quality": "bad", "age_s": null}},
    "salinity": {"practical_salinity": 34.8}, "temperature_c": null,
    "alarms": [{"id": "change-ended-early", "state": "acknowledged"}], "shelved": []}]})";

std::string_view cut_line(std::string_view& text) {
  const std::size_t end = std::min(text.find('\n'), text.size());
  const std::string_view line = text.substr(0, end);
  text.remove_prefix(std::min(end + 1, text.size()));
  return line;
}

HttpRequest cut(std::string_view text) {
  HttpRequest request;
  const std::string_view first = cut_line(text);
  const std::size_t space = std::min(first.find(' '), first.size());
  request.method = first.substr(0, space);
  request.target = first.substr(std::min(space + 1, first.size()));
  for (std::string_view line = cut_line(text); !line.empty(); line = cut_line(text)) {
    const std::size_t colon = std::min(line.find(':'), line.size());
    std::string name(line.substr(0, colon));
    std::transform(name.begin(), name.end(), name.begin(),
                   [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    const std::string_view value = line.substr(std::min(colon + 1, line.size()));
    request.headers[name] = value.substr(std::min(value.find_first_not_of(' '), value.size()));
  }
  request.body = text;
  return request;
}

bool is_shown(unsigned char c) {
  return c >= ' ' && c != 127;
}

// What the daemon of the cellar has kept: lots, a tank, a batch and its readings.
class Kept {
 public:
  Kept() {
    daemon::Library library;
    daemon::Append append;
    for (const auto& [act, file] : {std::pair("lot add", "h-2291.json"),
                                    {"lot add", "h-2304.csv"},
                                    {"tank add", "reef.json"}}) {
      const Json request = {{"do", act},
                            {"text", config::content_of(std::string("config/examples/") + file)}};
      const auto parsed =
          daemon::parse_request(daemon::dump(request), daemon::largest_local_request);
      daemon::apply_library_request(library, parsed.value(), append, now.wall);
    }
    const Json batch = {{"id", "mixer-1"}, {"begun", "2026-09-20T08:00:00Z"}, {"lot", "H-2291"}};
    append.entries.push_back({now.wall, "mixer", "batch-begun", daemon::dump(batch)});
    append.states.push_back({"batch", "mixer-1", "mixer", daemon::dump(batch)});
    keep(daemon::RecordWriter::open(folder_.path()), append);
    daemon::AppendReadings readings;
    for (int i = 0; i < 4; ++i)
      readings.rows.push_back({"mixer", "cell", now.wall - std::chrono::seconds(10 * i),
                               i == 1 ? Quality::Bad : Quality::Good, 35.0 + i});
    keep(daemon::HistoryWriter::open(folder_.path(), {}), readings);
  }
  [[nodiscard]] const std::filesystem::path& folder() const { return folder_.path(); }

 private:
  static void keep(auto&& writer, const auto& rows) {
    if (!writer.ok() || !std::move(writer).value().append(rows).ok())
      throw std::runtime_error("cannot keep what the requests are to find");
  }

  TemporaryFolder folder_;
};

struct Asked {
  Origin origin;
  std::string payload;
};

std::string check(const HttpResponse& response) {
  constexpr std::array known{200U, 400U, 401U, 403U, 404U, 405U, 409U, 415U, 421U};
  if (std::find(known.begin(), known.end(), response.status) == known.end())
    return fmt::format("a status of its own: {}", response.status);
  for (const auto& [name, value] : response.headers)
    if (name.empty() || !std::all_of(value.begin(), value.end(), is_shown))
      return "a header that begins another: " + name;
  const bool is_json = response.type == "application/json" || response.status != 200;
  if (is_json && !Json::accept(response.body))
    return "a body that is no JSON: " + response.body;
  if (response.status != 200 && response.type != "application/problem+json")
    return "a problem that is not told as one: " + response.type;
  return "";
}

// By a name of its own, or by a number.
bool is_own_host(std::string_view authority) {
  std::string name(authority.substr(0, authority.find(':')));
  std::transform(name.begin(), name.end(), name.begin(),
                 [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return name == host || name == "localhost" ||
         authority.find_first_not_of("0123456789abcdefABCDEF.:[]") == std::string_view::npos;
}

// S13: the engine is asked as a holder of the token by one who has it; all else only looks.
std::string check(const Asked& asked, const HttpRequest& request) {
  if (!is_own_host(request.header("host")))
    return "one who asked for another host was heard";
  if (request.header("authorization").find(token) != std::string_view::npos)
    return "";
  if (asked.origin == Origin::Token)
    return "asked without the token: " + asked.payload;
  return Json::parse(asked.payload, nullptr, false).value("do", "") == "status"
             ? ""
             : "more than looked at without the token: " + asked.payload;
}

}  // namespace

std::string http_request(std::string_view input) {
  static const Kept kept;
  std::vector<Asked> asked;
  daemon::HttpOutside outside;
  outside.ask = [&asked](Origin origin, std::string payload,
                         const std::function<void(const std::string&)>& answer) {
    asked.push_back({origin, std::move(payload)});
    answer(status);
  };
  outside.look_up = [](const std::function<HttpResponse()>& work,
                       const daemon::HttpAnswer& answer) {
    answer(work());
    return true;
  };
  outside.surroundings = [] { return daemon::Surroundings{}; };
  daemon::HttpApi api(daemon::HttpAccess({"127.0.0.1", 8480, "", {host}}, token), {"mixer"},
                      kept.folder(), std::move(outside));
  const HttpRequest request = cut(input);
  std::vector<HttpResponse> given;
  api.handle(request, now,
             [&given](HttpResponse response) { given.push_back(std::move(response)); });
  if (given.size() != 1)
    return fmt::format("{} answers", given.size());
  std::string complaint = check(given.front());
  for (const Asked& one : asked)
    if (complaint.empty())
      complaint = check(one, request);
  return complaint;
}

}  // namespace brinegate::fuzz
