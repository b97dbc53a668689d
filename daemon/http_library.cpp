// SPDX-License-Identifier: Apache-2.0
// See http_library.h.
#include "daemon/http_library.h"

#include <algorithm>
#include <variant>

#include <nlohmann/json.hpp>

#include "config/problem.h"
#include "daemon/engine/library_question.h"
#include "daemon/engine/library_request.h"
#include "daemon/engine/lot_view.h"
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

// As a lot that was not named.
Json test_view(const WaterTest& test) {
  Lot lot;
  lot.assay = test.assay;
  const Json view = lot_view(lot, test.assay.salinity);
  return {{"tested", iso_time(test.at)},
          {"sample", view.at("sample")},
          {"analytes", view.at("analytes")},
          {"sanity", view.at("sanity")}};
}

HttpResponse preview_of(Json content, const auto& read) {
  Json errors = Json::array();
  for (const config::Problem& problem : read.errors) {
    errors.push_back(render(problem));
  }
  return json_response(
      {{"content", std::move(content)}, {"errors", errors}, {"unread", unread_view(read.unread)}});
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

HttpResponse preview_response(const Request& request) {
  if (const auto* lot = std::get_if<AddLot>(&request.act)) {
    const auto read = config::read_lot(lot->handed_in.text, "text", lot->particulars);
    return preview_of(read.lot ? lot_view(*read.lot, read.lot->assay.salinity) : Json(), read);
  }
  if (const auto* test = std::get_if<AddWaterTest>(&request.act)) {
    const auto read = config::read_water_test(test->handed_in.text, "text", test->particulars);
    return preview_of(read.test ? test_view(*read.test) : Json(), read);
  }
  return problem_response(400, "only \"lot add\" and \"tank test\" can be looked at beforehand");
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
