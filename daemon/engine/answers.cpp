// SPDX-License-Identifier: Apache-2.0
#include "daemon/engine/answers.h"

#include <algorithm>
#include <utility>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "daemon/engine/state_json.h"

namespace brinegate::daemon {
namespace {

constexpr const char* unwritten =
    "It was done, but the disk does not take the record of it: it is forgotten if the daemon ends "
    "before the disk does. See to the disk; there is no need to ask again.";

std::string key_of(const std::string& station, const std::string& id) {
  return station + "/" + id;
}

std::string unwritten_payload(const std::string& promised) {
  Json payload = Json::parse(promised);
  payload["ok"] = false;
  payload["message"] = unwritten;
  return dump(payload);
}

}  // namespace

Result<Done> Answers::restore(const StoredState& state) {
  const Json body = Json::parse(state.body, nullptr, /*allow_exceptions=*/false);
  if (!body.is_object())
    return Error{fmt::format("{} {}: it is no JSON object", table, state.key)};
  // What was stored without a number is older than all that has one.
  const bool numbered = body.contains("number") && body.at("number").is_number_unsigned() &&
                        body.contains("answer") && body.at("answer").is_string();
  const std::uint64_t number = numbered ? body.at("number").get<std::uint64_t>() : 0;
  Known& known = known_[state.key];
  known.payload = numbered ? body.at("answer").get<std::string>() : state.body;
  known.number = number;
  by_number_.emplace(number, state.key);
  next_number_ = std::max(next_number_, number + 1);
  return Done{};
}

bool Answers::repeats(const std::string& station, const std::string& id, ReplyAddress asker,
                      std::vector<Effect>& effects) {
  const auto found = known_.find(key_of(station, id));
  if (id.empty() || found == known_.end())
    return false;
  if (found->second.payload.empty())
    found->second.waiting.push_back(asker);
  else
    effects.push_back(Reply{asker, station, found->second.payload});
  return true;
}

void Answers::expect(const std::string& station, const std::string& id, Append& append) {
  if (id.empty())
    return;
  const std::string key = key_of(station, id);
  known_[key].number = next_number_;
  by_number_.emplace(next_number_++, key);
  while (by_number_.size() > kept)
    forget_oldest(append);
}

void Answers::forget_oldest(Append& append) {
  const auto oldest = by_number_.begin();
  known_.erase(oldest->second);
  append.states.push_back({table, oldest->second, "", ""});
  by_number_.erase(oldest);
}

void Answers::store(const RequestAnswer& answer, Append& append) {
  const std::string key = key_of(answer.reply.station, answer.id);
  const auto found = known_.find(key);
  if (answer.id.empty() || found == known_.end())
    return;
  const Json body = {{"number", found->second.number}, {"answer", answer.reply.payload}};
  append.states.push_back({table, key, answer.reply.station, dump(body)});
}

void Answers::say(const RequestAnswer& answer, std::vector<Effect>& effects) {
  if (!answer.told)
    effects.push_back(answer.reply);
  const auto found = known_.find(key_of(answer.reply.station, answer.id));
  if (answer.id.empty() || found == known_.end())
    return;
  found->second.payload = answer.reply.payload;
  for (const ReplyAddress asker : std::exchange(found->second.waiting, {}))
    effects.push_back(Reply{asker, answer.reply.station, answer.reply.payload});
}

void Answers::say_unwritten(RequestAnswer& answer, std::vector<Effect>& effects) {
  std::vector<ReplyAddress> untold;
  if (const auto found = known_.find(key_of(answer.reply.station, answer.id));
      !answer.id.empty() && found != known_.end())
    untold = std::exchange(found->second.waiting, {});
  if (!std::exchange(answer.told, true))
    untold.push_back(answer.reply.to);
  if (untold.empty())
    return;
  const std::string payload = unwritten_payload(answer.reply.payload);
  for (const ReplyAddress asker : untold)
    effects.push_back(Reply{asker, answer.reply.station, payload});
}

}  // namespace brinegate::daemon
