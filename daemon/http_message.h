// SPDX-License-Identifier: Apache-2.0
// An HTTP request and its answer as plain values, so that what is answered can be tested without a
// socket. Errors are problem details (RFC 9457).
#pragma once

#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "daemon/engine/state_json.h"

namespace brinegate::daemon {

struct HttpRequest {
  std::string method;
  std::string target;                          // "/api/v1/stations/mixer?x=1", as it came
  std::map<std::string, std::string> headers;  // names in lower case; repeated ones joined by ", "
  std::string body;

  [[nodiscard]] std::string_view header(const std::string& lower_case_name) const;
  [[nodiscard]] std::string_view path() const;
  [[nodiscard]] bool takes_gzip() const;
  // The query's names and values, decoded; none where it cannot be read or a name comes twice.
  [[nodiscard]] std::optional<std::map<std::string, std::string>> query() const;
};

// %41 is A; none where a % is followed by anything else than two hexadecimal digits.
std::optional<std::string> percent_decoded(std::string_view text);

// An answer that stays open. May be let go of at any time; that ends it.
class HttpStream {
 public:
  virtual ~HttpStream() = default;
  // False: its reader has gone, or takes too little; nothing more will be taken.
  virtual bool send(const std::string& text) = 0;
};

struct HttpResponse {
  unsigned status = 200;
  std::string type = "application/json";
  std::string body;
  std::vector<std::pair<std::string, std::string>> headers;  // beside type, length and security
  std::function<void(std::shared_ptr<HttpStream>)> opened;   // set: `body` is only the beginning
};

// Called once; later calls are passed over.
using HttpAnswer = std::function<void(HttpResponse)>;

HttpResponse json_response(const Json& body);
HttpResponse problem_response(unsigned status, std::string_view detail);
// `members` beside the standard's own type, title, status and detail.
HttpResponse problem_response(unsigned status, std::string_view detail, const Json& members);

// What every answer carries, so that a browser takes it for nothing else and shows it nowhere else.
const std::vector<std::pair<std::string, std::string>>& security_headers();

}  // namespace brinegate::daemon
