// SPDX-License-Identifier: Apache-2.0
#include "daemon/engine/announcer.h"

#include <algorithm>
#include <utility>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "daemon/engine/discovery.h"

namespace brinegate::daemon {
namespace {

// A broker that has not acknowledged by then has lost its connection.
constexpr Duration surely_arrived = std::chrono::seconds(30);

StoredState stored(const std::string& topic, const std::string& station,
                   const std::map<std::string, std::string>& platforms) {
  return {Announcer::table, topic, station, dump(Json(platforms))};
}

}  // namespace

Announcer::Announcer(const config::Site& site) {
  if (!site.mqtt || !site.mqtt->discovery)
    return;
  for (const config::Station& station : site.stations) {
    const std::string& name = station.spec.name;
    const Json payload = discovery(site.name, station, BRINEGATE_VERSION);
    Announcement& added = wanted_.emplace_back();
    added.topic = discovery_topic(*site.mqtt, site.name, name);
    added.station = name;
    added.payload = dump(payload);
    for (const auto& [key, component] : payload.at("cmps").items())
      added.platforms[key] = component.at("p").get<std::string>();
  }
}

Result<Done> Announcer::restore(const StoredState& state) {
  const Json body = Json::parse(state.body, nullptr, /*allow_exceptions=*/false);
  const bool readable =
      body.is_object() && std::all_of(body.begin(), body.end(),
                                      [](const Json& platform) { return platform.is_string(); });
  if (!readable)
    return Error{fmt::format("{} {}: it is no JSON object of texts", table, state.key)};
  standing_[state.key] = body.get<Platforms>();
  return Done{};
}

const Announcer::Announcement* Announcer::wanted(const std::string& topic) const {
  const auto found = std::find_if(wanted_.begin(), wanted_.end(),
                                  [&](const Announcement& each) { return each.topic == topic; });
  return found == wanted_.end() ? nullptr : &*found;
}

void Announcer::begin(MonoTime now, std::vector<Effect>& effects) {
  begun_ = now;
  for (const auto& [topic, platforms] : standing_)
    if (wanted(topic) == nullptr)
      effects.push_back(Announce{topic, ""});
}

void Announcer::announce(std::size_t station, Append& append, std::vector<Effect>& effects) {
  if (wanted_.empty())
    return;
  const Announcement& now = wanted_[station];
  Platforms& standing = standing_[now.topic];
  const std::size_t stood = standing.size();
  standing.insert(now.platforms.begin(), now.platforms.end());
  if (standing.size() != stood)
    append.states.push_back(stored(now.topic, now.station, standing));
  // A component is taken back by saying nothing of it but its platform, and then nothing at all.
  if (standing.size() != now.platforms.size()) {
    Json with_those_gone = Json::parse(now.payload);
    for (const auto& [key, platform] : standing)
      if (!now.platforms.contains(key))
        with_those_gone["cmps"][key] = {{"p", platform}};
    effects.push_back(Announce{now.topic, dump(with_those_gone)});
  }
  effects.push_back(Announce{now.topic, now.payload});
}

void Announcer::settle(MonoTime now, Append& append) {
  if (!begun_ || now - *begun_ < surely_arrived)
    return;
  begun_.reset();
  for (auto at = standing_.begin(); at != standing_.end();) {
    auto& [topic, platforms] = *at;
    const Announcement* announced = wanted(topic);
    if (announced == nullptr) {
      append.states.push_back({table, topic, "", ""});
      at = standing_.erase(at);
      continue;
    }
    if (platforms != announced->platforms) {
      platforms = announced->platforms;
      append.states.push_back(stored(topic, announced->station, platforms));
    }
    ++at;
  }
}

}  // namespace brinegate::daemon
