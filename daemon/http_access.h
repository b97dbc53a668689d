// SPDX-License-Identifier: Apache-2.0
// Who may read and who may ask for something, told by a request's headers. A browser that was led
// here by another site, by its script or by a name that was bent to this address, gets nothing.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "config/model.h"
#include "daemon/http_message.h"
#include "rules/result.h"

namespace brinegate::daemon {

class HttpAccess {
 public:
  HttpAccess(const config::Http& http, std::string token);

  // Each answers with the refusal, or with none. Everybody: the names by which it was reached.
  [[nodiscard]] std::optional<HttpResponse> refuse_stranger(const HttpRequest& request) const;
  // The token, unless the request comes from this very computer, and not through a proxy.
  [[nodiscard]] std::optional<HttpResponse> refuse_reader(const HttpRequest& request) const;
  // The token in any case (S13).
  [[nodiscard]] std::optional<HttpResponse> refuse_asker(const HttpRequest& request) const;

 private:
  [[nodiscard]] bool knows_host(std::string_view authority) const;

  config::Http http_;
  std::string token_;  // empty: nobody has one
};

// The one line of the file: 16 to 256 visible characters, in a file that only its user may read.
Result<std::string> read_token(const std::filesystem::path& file);

}  // namespace brinegate::daemon
