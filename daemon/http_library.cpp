// SPDX-License-Identifier: Apache-2.0
// See http_library.h.
#include "daemon/http_library.h"

#include <algorithm>
#include <variant>

#include <nlohmann/json.hpp>

#include "daemon/engine/library_question.h"
#include "daemon/stored_library.h"

namespace brinegate::daemon {
namespace {

Json names_in(const std::string& list) {
  Json names = Json::array();
  std::string_view rest = list;
  while (!rest.empty()) {
    const std::string_view name = rest.substr(0, rest.find(','));
    names.push_back(name);
    rest.remove_prefix(std::min(name.size() + 1, rest.size()));
  }
  return names;
}

// What an address can only write as text.
Json value_of(const std::string& key, const std::string& text) {
  if (key == "lots") {
    return names_in(text);
  }
  if (key == "times" || key == "continuous") {
    const Json value = Json::parse(text, nullptr, false);
    return value.is_discarded() ? Json(text) : value;
  }
  return text;
}

// The address names what is not there.
bool names_nothing(const Library& library, const Request& question) {
  if (const auto* lot = std::get_if<AskLot>(&question.act)) {
    return !lot_named(library, lot->lot).ok();
  }
  return std::visit(
      [&library](const auto& act) {
        if constexpr (requires { act.tank; }) {
          return !std::string(act.tank).empty() && library.tank(act.tank) == nullptr;
        }
        return false;
      },
      question.act);
}

}  // namespace

Result<Request> library_question(std::string_view act, std::string_view key,
                                 const std::string& name,
                                 const std::map<std::string, std::string>& query) {
  Json request = {{"do", act}};
  if (!key.empty()) {
    request[std::string(key)] = name;
  }
  for (const auto& [parameter, text] : query) {
    if (request.contains(parameter)) {
      return Error{"'" + parameter + "' is said by the address already"};
    }
    request[parameter] = value_of(parameter, text);
  }
  return parse_request(dump(request));
}

HttpResponse library_response(const std::filesystem::path& data, const Request& question,
                              WallTime now) {
  const auto library = stored_library(data);
  if (!library) {
    return problem_response(500, library.error().message);
  }
  Json answer = answer_question(*library, question, now);
  if (!answer.value("ok", false)) {
    return problem_response(names_nothing(*library, question) ? 404 : 400,
                            answer.value("message", ""));
  }
  answer.erase("id");
  answer.erase("ok");
  return json_response(answer);
}

}  // namespace brinegate::daemon
