// SPDX-License-Identifier: Apache-2.0
// See http_access.h.
#include "daemon/http_access.h"

#include <algorithm>
#include <array>
#include <cctype>
#include <cerrno>
#include <cstring>
#include <fstream>
#include <utility>

#include <arpa/inet.h>
#include <fmt/format.h>
#include <nlohmann/json.hpp>
#include <sys/stat.h>

namespace brinegate::daemon {
namespace {

constexpr std::size_t shortest_token = 16;
constexpr std::size_t longest_token = 256;

// "cellar.example" of "cellar.example:8480", "::1" of "[::1]:8480".
std::string host_of(std::string_view authority) {
  const std::size_t bracket = authority.find(']');
  if (authority.starts_with('[')) {
    return std::string(authority.substr(1, bracket == authority.npos ? 0 : bracket - 1));
  }
  std::string host(authority.substr(0, authority.find(':')));
  std::transform(host.begin(), host.end(), host.begin(),
                 [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return host;
}

bool is_numeric(const std::string& host) {
  std::array<unsigned char, sizeof(in6_addr)> bytes{};
  return inet_pton(AF_INET, host.c_str(), bytes.data()) == 1 ||
         inet_pton(AF_INET6, host.c_str(), bytes.data()) == 1;
}

bool is_loopback(const std::string& host) {
  return host == "localhost" || host == "::1" || (is_numeric(host) && host.starts_with("127."));
}

bool came_through_a_proxy(const HttpRequest& request) {
  constexpr std::array names{"forwarded", "via", "x-forwarded-for", "x-forwarded-host",
                             "x-real-ip"};
  return std::any_of(names.begin(), names.end(),
                     [&](const char* name) { return request.headers.contains(name); });
}

// Takes as long whatever the difference is.
bool is_same(std::string_view given, std::string_view wanted) {
  unsigned difference = given.size() == wanted.size() ? 0U : 1U;
  for (std::size_t i = 0; i < wanted.size(); ++i) {
    const char other = given.empty() ? '\0' : given[i % given.size()];
    difference |= static_cast<unsigned char>(other ^ wanted[i]);
  }
  return difference == 0U;
}

HttpResponse token_wanted(std::string_view detail) {
  HttpResponse response = problem_response(401, detail);
  response.headers.emplace_back("WWW-Authenticate", "Bearer");
  return response;
}

}  // namespace

HttpAccess::HttpAccess(const config::Http& http, std::string token)
    : http_(http), token_(std::move(token)) {}

// A number cannot be bent to another address as a name can.
bool HttpAccess::knows_host(std::string_view authority) const {
  const std::string host = host_of(authority);
  return host == "localhost" || is_numeric(host) ||
         std::find(http_.hosts.begin(), http_.hosts.end(), host) != http_.hosts.end();
}

std::optional<HttpResponse> HttpAccess::refuse_stranger(const HttpRequest& request) const {
  const std::string_view host = request.header("host");
  if (!knows_host(host)) {
    return problem_response(421, "this name is not one of the configuration's [http] hosts");
  }
  const std::string_view origin = request.header("origin");
  if (origin.empty()) {
    return std::nullopt;
  }
  const std::size_t scheme = origin.find("://");
  const std::string_view authority =
      scheme == std::string_view::npos ? std::string_view() : origin.substr(scheme + 3);
  // A proxy may ask by another name than the browser's; then the browser's is one of the hosts.
  const bool is_own = authority == host || std::find(http_.hosts.begin(), http_.hosts.end(),
                                                     authority) != http_.hosts.end();
  if (authority.empty() || !is_own) {
    return problem_response(403, "pages of other origins get nothing here");
  }
  return std::nullopt;
}

std::optional<HttpResponse> HttpAccess::refuse_reader(const HttpRequest& request) const {
  const bool is_local = http_.on_loopback() && is_loopback(host_of(request.header("host"))) &&
                        !came_through_a_proxy(request);
  return is_local ? std::nullopt : refuse_asker(request);
}

std::optional<HttpResponse> HttpAccess::refuse_asker(const HttpRequest& request) const {
  if (token_.empty()) {
    return problem_response(403,
                            "nobody can ask for anything: the configuration names no token_file");
  }
  constexpr std::string_view scheme = "bearer ";
  const std::string_view given = request.header("authorization");
  const bool is_bearer =
      given.size() > scheme.size() &&
      std::equal(scheme.begin(), scheme.end(), given.begin(),
                 [](char wanted, unsigned char c) { return std::tolower(c) == wanted; });
  if (!is_bearer) {
    return token_wanted("the token is wanted: send the header Authorization: Bearer TOKEN");
  }
  if (!is_same(given.substr(scheme.size()), token_)) {
    return token_wanted("this is not the token in the configuration's token_file");
  }
  return std::nullopt;
}

Result<std::string> read_token(const std::filesystem::path& file) {
  const auto failed = [&file](std::string_view why) {
    return Error{fmt::format("token file {}: {}", file.string(), why)};
  };
  struct stat status {};
  if (::stat(file.c_str(), &status) != 0) {
    return failed(fmt::format("{}: make one with (umask 077; openssl rand -hex 24 > {})",
                              std::strerror(errno), file.string()));
  }
  if ((status.st_mode & 077U) != 0) {
    return failed("others may use it: chmod 600 it");
  }
  std::ifstream stream(file);
  std::string token;
  std::getline(stream, token);
  const bool is_visible =
      std::all_of(token.begin(), token.end(), [](unsigned char c) { return c > ' ' && c < 127; });
  if (!stream || !is_visible || token.size() < shortest_token || token.size() > longest_token) {
    return failed(fmt::format("its first line is no token of {} to {} visible characters",
                              shortest_token, longest_token));
  }
  return token;
}

}  // namespace brinegate::daemon
