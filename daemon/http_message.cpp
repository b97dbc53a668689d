// SPDX-License-Identifier: Apache-2.0
// See http_message.h.
#include "daemon/http_message.h"

#include <algorithm>
#include <array>
#include <charconv>

#include <nlohmann/json.hpp>

namespace brinegate::daemon {
namespace {

struct StatusTitle {
  unsigned status;
  std::string_view title;
};

constexpr std::array titles{
    StatusTitle{400, "Bad Request"},
    StatusTitle{401, "Unauthorized"},
    StatusTitle{403, "Forbidden"},
    StatusTitle{404, "Not Found"},
    StatusTitle{405, "Method Not Allowed"},
    StatusTitle{409, "Conflict"},
    StatusTitle{413, "Content Too Large"},
    StatusTitle{415, "Unsupported Media Type"},
    StatusTitle{421, "Misdirected Request"},
    StatusTitle{429, "Too Many Requests"},
    StatusTitle{431, "Request Header Fields Too Large"},
    StatusTitle{500, "Internal Server Error"},
    StatusTitle{503, "Service Unavailable"},
    StatusTitle{504, "Gateway Timeout"},
};

std::string_view title_of(unsigned status) {
  const auto* const found =
      std::find_if(titles.begin(), titles.end(),
                   [status](const StatusTitle& each) { return each.status == status; });
  return found == titles.end() ? "Error" : found->title;
}

// As browsers write a form's values: a space is a +.
std::optional<std::string> form_decoded(std::string_view text) {
  std::string spaced(text);
  std::replace(spaced.begin(), spaced.end(), '+', ' ');
  return percent_decoded(spaced);
}

}  // namespace

std::string_view HttpRequest::header(const std::string& lower_case_name) const {
  const auto found = headers.find(lower_case_name);
  return found == headers.end() ? std::string_view() : found->second;
}

std::string_view HttpRequest::path() const {
  return std::string_view(target).substr(0, target.find('?'));
}

// Whoever gives it a weight of its own is a rare client, and gets the plain answer.
bool HttpRequest::takes_gzip() const {
  std::string_view rest = header("accept-encoding");
  while (!rest.empty()) {
    std::string_view coding = rest.substr(0, rest.find(','));
    rest.remove_prefix(std::min(coding.size() + 1, rest.size()));
    while (coding.starts_with(' ')) {
      coding.remove_prefix(1);
    }
    if (coding == "gzip") {
      return true;
    }
  }
  return false;
}

std::optional<std::map<std::string, std::string>> HttpRequest::query() const {
  std::map<std::string, std::string> values;
  std::string_view rest = std::string_view(target).substr(path().size());
  while (rest.size() > 1) {
    rest.remove_prefix(1);  // the '?' or '&'
    const std::string_view pair = rest.substr(0, rest.find('&'));
    const std::size_t equals = std::min(pair.find('='), pair.size());
    const auto name = form_decoded(pair.substr(0, equals));
    const auto value = form_decoded(pair.substr(std::min(equals + 1, pair.size())));
    if (!name || !value || !values.emplace(*name, *value).second) {
      return std::nullopt;
    }
    rest.remove_prefix(pair.size());
  }
  return values;
}

std::optional<std::string> percent_decoded(std::string_view text) {
  std::string decoded;
  for (std::size_t at = 0; at < text.size(); ++at) {
    if (text[at] != '%') {
      decoded += text[at];
      continue;
    }
    unsigned char value = 0;
    const std::string_view digits = text.substr(at + 1, 2);
    const auto [end, failure] =
        std::from_chars(digits.data(), digits.data() + digits.size(), value, 16);
    if (digits.size() != 2 || failure != std::errc() || end != digits.data() + 2) {
      return std::nullopt;
    }
    decoded += static_cast<char>(value);
    at += 2;
  }
  return decoded;
}

HttpResponse json_response(const Json& body) {
  HttpResponse response;
  response.body = dump(body) + "\n";
  return response;
}

HttpResponse problem_response(unsigned status, std::string_view detail) {
  return problem_response(status, detail, Json::object());
}

HttpResponse problem_response(unsigned status, std::string_view detail, const Json& members) {
  Json problem = {
      {"type", "about:blank"}, {"title", title_of(status)}, {"status", status}, {"detail", detail}};
  problem.update(members);
  HttpResponse response = json_response(problem);
  response.status = status;
  response.type = "application/problem+json";
  return response;
}

const std::vector<std::pair<std::string, std::string>>& security_headers() {
  static const std::vector<std::pair<std::string, std::string>> headers{
      {"Content-Security-Policy",
       "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src "
       "'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"},
      {"X-Content-Type-Options", "nosniff"},
      {"Referrer-Policy", "no-referrer"},
      {"Cross-Origin-Resource-Policy", "same-origin"},
      {"Cross-Origin-Opener-Policy", "same-origin"},
  };
  return headers;
}

}  // namespace brinegate::daemon
