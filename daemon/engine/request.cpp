// SPDX-License-Identifier: Apache-2.0
#include "daemon/engine/request.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <string>
#include <utility>
#include <vector>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "config/quantity.h"
#include "config/waiver_advice.h"
#include "config/wall_time.h"
#include "config/words.h"
#include "rules/chemistry/exchange.h"

namespace brinegate::daemon {
namespace {

using nlohmann::json;

constexpr int deepest_request = 16;
constexpr std::size_t most_compared = 50;
constexpr std::size_t most_person = 80;
constexpr std::size_t most_reason = 300;
constexpr std::size_t longest_note = 1000;

// The members of a request, each asked for once; what remains unasked is unknown and refused.
class Members {
 public:
  explicit Members(const json& object) : object_(object) {}

  std::string text(const char* key) {
    const json* value = take(key);
    if (value == nullptr)
      return "";
    if (value->is_string())
      return value->get<std::string>();
    fail(fmt::format("'{}' must be a text", key));
    return "";
  }
  std::string required_text(const char* key) {
    std::string value = text(key);
    if (value.empty())
      fail(fmt::format("'{}' is missing", key));
    return value;
  }
  template <class T>
  std::optional<T> quantity(const char* key, Result<T> (*parse)(std::string_view)) {
    const std::string written = text(key);
    if (written.empty())
      return std::nullopt;
    const auto parsed = parse(written);
    if (parsed)
      return parsed.value();
    fail(fmt::format("'{}': {}", key, parsed.error().message));
    return std::nullopt;
  }
  // A list of objects.
  const json* list(const char* key) {
    const json* value = take(key);
    const auto is_object = [](const json& each) { return each.is_object(); };
    if (value == nullptr ||
        (value->is_array() && std::all_of(value->begin(), value->end(), is_object)))
      return value;
    fail(fmt::format("'{}' must be a list of objects", key));
    return nullptr;
  }
  std::optional<double> number(const char* key) {
    const json* value = take(key);
    if (value == nullptr)
      return std::nullopt;
    if (value->is_number())
      return value->get<double>();
    fail(fmt::format("'{}' must be a number", key));
    return std::nullopt;
  }
  bool flag(const char* key) {
    const json* value = take(key);
    if (value != nullptr && !value->is_boolean())
      fail(fmt::format("'{}' must be true or false", key));
    return value != nullptr && value->is_boolean() && value->get<bool>();
  }
  std::vector<std::string> texts(const char* key) {
    const json* value = take(key);
    std::vector<std::string> all;
    if (value == nullptr)
      return all;
    const bool is_list =
        value->is_array() && std::all_of(value->begin(), value->end(),
                                         [](const json& each) { return each.is_string(); });
    if (is_list)
      all = value->get<std::vector<std::string>>();
    else
      fail(fmt::format("'{}' must be a list of texts", key));
    return all;
  }
  Litres volume() {
    const auto volume = quantity("volume", config::parse_volume);
    if (!volume)
      fail("'volume' is missing: write \"volume\": \"40 L\"");
    return volume.value_or(Litres(0.0));
  }
  std::optional<double> dry_fraction() {
    const auto fraction = number("dry_fraction");
    if (fraction && !(*fraction > 0.2 && *fraction <= 1.0))
      fail("'dry_fraction' must be more than 0.2 and at most 1");
    return fraction;
  }
  void fail(std::string message) {
    if (error_.empty())
      error_ = std::move(message);
  }
  std::string error() {
    for (const auto& [key, value] : object_.items())
      if (std::find(taken_.begin(), taken_.end(), key) == taken_.end())
        fail(fmt::format("'{}' is not known here", key));
    return error_;
  }

 private:
  const json* take(const char* key) {
    taken_.emplace_back(key);
    const auto found = object_.find(key);
    return found == object_.end() ? nullptr : &*found;
  }

  const json& object_;
  std::vector<std::string> taken_;
  std::string error_;
};

bool is_too_deep(std::string_view text) {
  int depth = 0;
  bool in_text = false;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    if (in_text && c == '\\')
      ++i;
    else if (c == '"')
      in_text = !in_text;
    else if (!in_text && (c == '{' || c == '['))
      ++depth;
    else if (!in_text && (c == '}' || c == ']'))
      --depth;
    if (depth > deepest_request)
      return true;
  }
  return false;
}

LotTaken read_lot_taken(Members& members) {
  return {members.required_text("lot"), members.quantity("salt", config::parse_mass)};
}

// `lots`, or one lot at the top.
std::vector<LotTaken> read_lots(Members& members) {
  const json* list = members.list("lots");
  if (list == nullptr)
    return {read_lot_taken(members)};
  std::vector<LotTaken> lots;
  for (const json& each : *list) {
    Members one(each);
    lots.push_back(read_lot_taken(one));
    if (std::string error = one.error(); !error.empty())
      members.fail("'lots': " + error);
    if (list->size() > 1 && !lots.back().salt)
      members.fail("'lots': write how much 'salt' each of several lots is");
  }
  if (lots.empty())
    members.fail("'lots' is empty: write [{\"lot\": \"...\", \"salt\": \"5 kg\"}]");
  return lots;
}

EnterHandTest read_hand_test(Members& members) {
  const std::string name = members.required_text("analyte");
  const auto analyte = config::analyte_named(name);
  if (!analyte && !name.empty())
    members.fail("'analyte': " + config::unknown_analyte(name).message);
  return {analyte.value_or(config::NamedAnalyte{}), members.required_text("value")};
}

CheckId read_check(Members& members) {
  const std::string name = members.required_text("check");
  const auto check = config::check_of(name);
  if (!check && !name.empty())
    members.fail(
        fmt::format("'check': there is no \"{}\"; what a profile can allow to be waived is {}",
                    name, config::all_waivable()));
  return check.value_or(CheckId{});
}

WaiveCheck read_waive(Members& members) {
  WaiveCheck waive{read_check(members), members.required_text("by"),
                   members.required_text("reason"), Duration(0)};
  const auto length = members.quantity("for", config::parse_duration);
  if (!length)
    members.fail("'for' is missing: a waiver ends: write \"for\": \"2 h\"");
  waive.length = length.value_or(Duration(0));
  if (waive.length < shortest_waiver || waive.length > longest_waiver)
    members.fail(fmt::format("'for' must be {} to {}", config::show(shortest_waiver),
                             config::show(longest_waiver)));
  if (waive.person.size() > most_person)
    members.fail(fmt::format("'by' is longer than {} bytes: the name of a person", most_person));
  if (waive.reason.size() > most_reason)
    members.fail(fmt::format("'reason' is longer than {} bytes", most_reason));
  return waive;
}

BeginBatch read_begin(Members& members) {
  BeginBatch begin;
  begin.lots = read_lots(members);
  begin.profile = members.text("profile");
  begin.dry_fraction = members.dry_fraction();
  begin.salt_factor = members.number("salt_factor");
  begin.salt_factor_uncertainty = members.number("salt_factor_uncertainty");
  if (begin.salt_factor.has_value() != begin.salt_factor_uncertainty.has_value())
    members.fail(
        "'salt_factor' and 'salt_factor_uncertainty' go together: a factor without its standard "
        "uncertainty says nothing");
  if (begin.salt_factor && !(*begin.salt_factor >= 0.9 && *begin.salt_factor <= 1.1))
    members.fail("'salt_factor' must be 0.9 to 1.1; it is about 1");
  if (begin.salt_factor_uncertainty &&
      !(*begin.salt_factor_uncertainty > 0.0 && *begin.salt_factor_uncertainty <= 0.1))
    members.fail("'salt_factor_uncertainty' must be more than 0 and at most 0.1 (10 %)");
  return begin;
}

NoteAddition read_note(Members& members) {
  NoteAddition note;
  note.salt = members.quantity("salt", config::parse_mass);
  note.lot = members.text("lot");
  if (!note.lot.empty() && !note.salt)
    members.fail("'lot' says what 'salt' was added is of: write both");
  note.water = members.quantity("water", config::parse_volume);
  note.removed = members.quantity("removed", config::parse_volume);
  note.salt_total = members.quantity("salt_total", config::parse_mass);
  note.text = members.text("text");
  if (note.text.size() > longest_note)
    members.fail(fmt::format("'text' is longer than {} bytes: write what matters", longest_note));
  return note;
}

CalibrateProbe read_calibrate(Members& members) {
  CalibrateProbe calibrate;
  calibrate.probe = members.required_text("probe");
  calibrate.standard = members.required_text("standard");
  calibrate.at = members.quantity("at", config::parse_temperature).value_or(Celsius(25.0));
  return calibrate;
}

HandedIn read_handed_in(Members& members) {
  return {members.required_text("text"), members.text("file"), members.text("by")};
}

AddLot read_lot(Members& members) {
  AddLot lot{read_handed_in(members), {}};
  lot.particulars.name = members.text("name");
  lot.particulars.salt = members.text("salt");
  lot.particulars.salinity = members.quantity("salinity", config::parse_salinity);
  lot.particulars.expires = members.quantity("expires", config::parse_last_day);
  lot.particulars.dry_fraction = members.dry_fraction();
  return lot;
}

AddWaterTest read_water_test(Members& members) {
  AddWaterTest test{members.required_text("tank"), read_handed_in(members), {}};
  test.particulars.at = members.quantity("at", config::parse_time);
  test.particulars.salinity = members.quantity("salinity", config::parse_salinity);
  return test;
}

NoteTankChange read_tank_change(Members& members) {
  NoteTankChange change;
  change.tank = members.required_text("tank");
  change.volume = members.volume();
  change.lot = members.text("lot");
  change.salinity = members.quantity("salinity", config::parse_salinity);
  change.at = members.quantity("at", config::parse_time);
  return change;
}

ShelveAlarm read_shelving(Members& members) {
  ShelveAlarm shelve;
  shelve.alarm = members.required_text("alarm");
  shelve.reason = members.text("reason");
  const auto time = members.quantity("for", config::parse_duration);
  if (time && *time > Duration::zero() && *time <= longest_on_shelf)
    shelve.time = *time;
  else
    members.fail("'for' must be up to a day: write \"for\": \"2 h\"");
  return shelve;
}

AskedPlan read_plan(Members& members) {
  AskedPlan plan;
  if (const auto change = members.quantity("change", parse_exchange))
    plan.change = *change;
  else
    members.fail("'change' is missing: write \"change\": \"20 %\" of the tank, or \"80 L\"");
  if (const auto times = members.number("times")) {
    if (*times >= 0.0 && *times <= most_changes && *times == std::floor(*times))
      plan.times = static_cast<int>(*times);
    else
      members.fail(fmt::format("'times' must be a whole number up to {}", most_changes));
  }
  plan.every = members.quantity("every", config::parse_duration);
  plan.continuous = members.flag("continuous");
  plan.salinity = members.quantity("salinity", config::parse_salinity);
  plan.temperature = members.quantity("temperature", config::parse_temperature);
  return plan;
}

AskLot read_lot_question(Members& members) {
  return {members.required_text("lot"), members.quantity("salinity", config::parse_salinity)};
}

AskComparison read_comparison(Members& members) {
  AskComparison asked{members.texts("lots"), members.text("tank"),
                      members.quantity("salinity", config::parse_salinity)};
  if (asked.lots.size() > most_compared)
    members.fail(fmt::format("'lots': at most {} stand side by side", most_compared));
  if (asked.lots.empty())
    members.fail("'lots' is missing: write \"lots\": [\"H-2291\", \"H-2304\"]");
  return asked;
}

AskForecast read_forecast(Members& members) {
  return {members.required_text("tank"), members.required_text("lot"), read_plan(members)};
}

AskRanking read_ranking(Members& members) {
  return {members.required_text("tank"), members.texts("lots"), read_plan(members)};
}

constexpr std::array<std::string_view, 27> acts{
    "change",        "stop",        "begin",       "note",     "test",        "waive",
    "unwaive",       "abandon",     "calibrate",   "verify",   "acknowledge", "shelve",
    "unshelve",      "status",      "lot add",     "tank add", "lot list",    "tank test",
    "tank change",   "lot show",    "lot compare", "lot rank", "tank list",   "tank show",
    "tank forecast", "tank review", "lot unlearn"};

Result<Request> read_act(const std::string& act, Members& members, Request request) {
  if (act == "change")
    request.act = AskChange{members.volume()};
  else if (act == "stop")
    request.act = StopChange{};
  else if (act == "begin")
    request.act = read_begin(members);
  else if (act == "note")
    request.act = read_note(members);
  else if (act == "test")
    request.act = read_hand_test(members);
  else if (act == "waive")
    request.act = read_waive(members);
  else if (act == "unwaive")
    request.act = UnwaiveCheck{read_check(members)};
  else if (act == "abandon")
    request.act = AbandonBatch{};
  else if (act == "calibrate")
    request.act = read_calibrate(members);
  else if (act == "verify")
    request.act = VerifyProbe{members.required_text("probe"), members.required_text("shows")};
  else if (act == "acknowledge")
    request.act = AcknowledgeAlarm{members.required_text("alarm")};
  else if (act == "shelve")
    request.act = read_shelving(members);
  else if (act == "unshelve")
    request.act = UnshelveAlarm{members.required_text("alarm")};
  else if (act == "status")
    request.act = AskStatus{};
  else if (act == "lot add")
    request.act = read_lot(members);
  else if (act == "lot unlearn")
    request.act = UnlearnLot{members.required_text("lot"), members.text("by")};
  else if (act == "tank add")
    request.act = AddTank{read_handed_in(members)};
  else if (act == "tank test")
    request.act = read_water_test(members);
  else if (act == "tank change")
    request.act = read_tank_change(members);
  else if (act == "lot list")
    request.act = AskLots{};
  else if (act == "lot show")
    request.act = read_lot_question(members);
  else if (act == "lot compare")
    request.act = read_comparison(members);
  else if (act == "lot rank")
    request.act = read_ranking(members);
  else if (act == "tank list")
    request.act = AskTanks{};
  else if (act == "tank show")
    request.act = AskTank{members.required_text("tank")};
  else if (act == "tank review")
    request.act = AskReview{members.required_text("tank")};
  else if (act == "tank forecast")
    request.act = read_forecast(members);
  else
    return Error{
        fmt::format("'do': \"{}\" is not known; write one of {}", act, fmt::join(acts, ", "))};
  return request;
}

}  // namespace

Result<ExchangeAmount> parse_exchange(std::string_view text) {
  if (const auto share = config::parse_share(text))
    return ExchangeAmount{*share, std::nullopt};
  if (const auto volume = config::parse_volume(text))
    return ExchangeAmount{std::nullopt, *volume};
  return Error{
      fmt::format("\"{}\" is neither a share of the tank nor a volume: write \"20 %\" or "
                  "\"80 L\"",
                  text)};
}

Result<Request> parse_request(std::string_view text, std::size_t largest) {
  if (text.size() > largest)
    return Error{
        fmt::format("the request has {} bytes, at most {} are read", text.size(), largest)};
  if (is_too_deep(text))
    return Error{fmt::format("the request is nested deeper than {} levels", deepest_request)};
  const json object = json::parse(text, nullptr, false);
  if (!object.is_object())
    return Error{"the request is not a JSON object: write {\"id\": \"...\", \"do\": \"...\"}"};
  Members members(object);
  Request request;
  request.id = members.text("id");
  request.station = members.text("station");
  const std::string act = members.required_text("do");
  if (act.empty())
    return Error{fmt::format("'do' is missing; write one of {}", fmt::join(acts, ", "))};
  auto read = read_act(act, members, std::move(request));
  if (!read)
    return read;
  if (read->id.size() > 128)
    members.fail("'id' is longer than 128 characters");
  if (std::string error = members.error(); !error.empty())
    return Error{std::move(error)};
  return read;
}

}  // namespace brinegate::daemon
