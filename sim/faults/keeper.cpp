// SPDX-License-Identifier: Apache-2.0
#include "sim/faults/keeper.h"

#include <algorithm>
#include <memory>
#include <utility>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "rules/mass_balance.h"
#include "rules/profile.h"
#include "sim/faults/virtual_site.h"

namespace brinegate::sim {
namespace {

using namespace std::chrono_literals;
using daemon::Origin;
using nlohmann::json;

constexpr Duration patience = 12h;  // with a batch that is not proven
constexpr MilliSiemensPerCm standard{53.07};

}  // namespace

Keeper::Keeper(const LifePlan& plan, Plant& plant, Watch& watch, Send send)
    : plan_(plan),
      plant_(plant),
      watch_(watch),
      send_(std::move(send)),
      random_(plan.seed ^ 0x6b6565706572),
      next_look_(MonoTime(1h) + 2min) {}

MonoTime Keeper::due() const {
  return errands_.empty() ? next_look_ : std::min(next_look_, errands_.begin()->first);
}

void Keeper::act(MonoTime now) {
  while (!errands_.empty() && errands_.begin()->first <= now) {
    const auto errand = std::move(errands_.begin()->second);
    errands_.erase(errands_.begin());
    errand();
  }
  if (now < next_look_)
    return;
  next_look_ = now + (careful_ ? Duration(15min) : between(30min, 2h));
  if (!errands_.empty())  // in the middle of something
    return;
  Letter question;
  asked_status_ = question.request.id = fmt::format("k{}", ++ids_);
  question.request.acts = false;
  question.payload =
      fmt::format(R"({{"id":"{}","do":"status","station":"{}"}})", asked_status_, station_name);
  send_(question);
}

void Keeper::become_careful(MonoTime now) {
  careful_ = true;
  wrong_dose_ = repeats_ = false;
  errands_.clear();
  waiting_.clear();
  plant_.let_system_run(false);
  plant_.repair();
  next_change_ = now;
  next_look_ = now + 1min;
  mixing_since_.reset();
  later(now + 1min, [this, now] { abandon(now + 1min); });
  for (std::size_t cell = 0; cell < plan_.station.cells; ++cell)
    later(now + 5min + cell * 10min,
          [this, cell, at = now + 5min + cell * 10min] { calibrate(cell, 1.0, at); });
}

void Keeper::look(const std::string& status, MonoTime now) {
  const json answer = json::parse(status);
  const json& state = answer.at("stations").front();
  const std::string phase = state.value("phase", "");
  acknowledge(state, now);
  if (phase != "mixing" && phase != "filling")
    mixing_since_.reset();
  if (phase == "empty")
    mix(now);
  else if (phase == "mixing" || phase == "filling")
    look_at_mixing(state, now);
  else if (phase == "rejected")
    look_at_rejected(state, now);
  else if (phase == "proven")
    look_at_proven(state, now);
}

void Keeper::acknowledge(const json& state, MonoTime now) {
  for (const json& alarm : state.at("alarms"))
    if (alarm.value("state", "") != "acknowledged" && (careful_ || chance(0.7)))
      send("acknowledge", fmt::format(R"("alarm":"{}")", alarm.value("id", "")), Origin::Local,
           now);
}

void Keeper::look_at_mixing(const json& state, MonoTime now) {
  if (!mixing_since_)
    mixing_since_ = now;
  for (const json& check : state.at("checks"))
    if (check.value("id", "") == "cells-agree" && check.value("verdict", "") == "violated")
      watch_.reach(Mark::DisagreementBlockedProof);
  if (now - *mixing_since_ < patience)
    return;
  mixing_since_ = now;
  if (std::exchange(calibrated_all_, !calibrated_all_)) {
    abandon(now);
    return;
  }
  for (std::size_t cell = 0; cell < plan_.station.cells; ++cell)
    later(now + cell * 10min, [this, cell, at = now + cell * 10min] { calibrate(cell, 1.0, at); });
}

void Keeper::look_at_rejected(const json& state, MonoTime now) {
  const json& advice = state.at("advice");
  if (careful_)
    look_into_disputed_dose(state, now);
  const bool helps = !advice.empty() && advice.front().value("fits", false);
  if (helps && (careful_ || chance(0.8)))
    follow(advice.front(), now);
  else
    abandon(now);
}

// A lot may have learned from doses that were not as noted, in the days before. And whoever dries a
// sample of the salt knows what it yields.
void Keeper::look_into_disputed_dose(const json& state, MonoTime now) {
  for (const json& check : state.at("checks")) {
    if (check.value("id", "") != "as-dosed" || check.value("verdict", "") != "violated")
      continue;
    dried_a_sample_ = true;
    if (check.value("sentence", "").find("lot unlearn") != std::string::npos)
      send("lot unlearn", R"("lot":"H-2291")", Origin::Local, now);
  }
}

void Keeper::follow(const json& advice, MonoTime now) {
  hands_in(now);
  const double salt = advice.value("salt_g", 0.0);
  const double water = advice.value("water_l", 0.0);
  const double remove = advice.value("remove_l", 0.0);
  plant_.remove(Litres(remove));
  plant_.fill(Litres(water), plan_.station.set_point);
  plant_.salt(Grams(salt));
  corrected_ = true;
  std::string members = fmt::format(R"("removed":"{:.3f} L","water":"{:.3f} L")", remove, water);
  if (salt > 0.0)
    members += fmt::format(R"(,"salt":"{:.1f} g")", salt);
  note(members, now);
}

void Keeper::look_at_proven(const json& state, MonoTime now) {
  if (std::exchange(corrected_, false))
    watch_.reach(Mark::CorrectionProven);
  const double left = plant_.water().volume() / plan_.station.capacity;
  const auto& checks = state.at("checks");
  const bool too_old = std::any_of(checks.begin(), checks.end(), [](const json& check) {
    return check.value("id", "") == "not-too-old" && check.value("verdict", "") == "violated";
  });
  if (left < 0.3 || too_old) {
    abandon(now);
    return;
  }
  if (!careful_ && chance(0.01)) {  // evaporation is made up for, and said
    hands_in(now);
    plant_.fill(plan_.station.capacity * 0.01, plan_.station.set_point);
    note(fmt::format(R"("water":"{:.2f} L")", plan_.station.capacity.value() * 0.01), now);
    return;
  }
  if (now < next_change_) {
    next_look_ = std::min(next_change_, now + (careful_ ? Duration(15min) : Duration(6h)));
    return;
  }
  next_change_ = now + (careful_ ? Duration(30min) : between(4h, 60h));
  if (plan_.station.permit == PermitMode::PerChange)
    ask_change(now);
  else
    let_run(now);
}

void Keeper::ask_change(MonoTime now) {
  const double most = std::min(0.35, plant_.water().volume() / plan_.station.capacity - 0.1);
  const Litres volume = plan_.station.capacity * uniform(random_, 0.05, most);
  const Origin origin = careful_ || chance(0.4) ? Origin::Local : Origin::Network;
  change_asked_at_ = now;
  send("change", fmt::format(R"("volume":"{:.2f} L")", volume.value()), origin, now, true);
  if (!careful_ && chance(0.06))
    later(now + between(15s, 2min), [this, now] { send("stop", "", Origin::Network, now); });
}

void Keeper::let_run(MonoTime now) {
  const StationTraits& station = plan_.station;
  if (++runs_ > 3 && !careful_) {  // an open gate costs a turn for each renewal
    idle_until_ = now + between(24h, 120h);
    return abandon(now);
  }
  next_change_ = now + (careful_ ? Duration(30min) : between(20min, 2h));
  const bool forgets = !careful_ && chance(0.05);
  const double share = forgets ? 0.6 : uniform(random_, 0.05, 0.2);
  const Duration lasts =
      from_seconds(60.0 * share * station.capacity.value() / station.pump_flow.value());
  change_asked_at_ = now;
  plant_.let_system_run(true);
  later(now + lasts, [this] { plant_.let_system_run(false); });
}

// What is left may stay, and counts.
void Keeper::mix(MonoTime now) {
  if (!careful_ && now < idle_until_) {
    next_look_ = std::min(idle_until_, now + 6h);
    return;
  }
  runs_ = 0;
  const StationTraits& station = plan_.station;
  hands_in(now);
  if (careful_ || !station.has_level || chance(0.5))
    plant_.drain();
  const Water rest{plant_.water().volume(), plant_.water().final_salinity()};
  const Litres full = station.capacity * uniform(random_, 0.7, 0.9);
  const Litres fresh = std::max(Litres(1.0), full - rest.volume);
  SaltProduct believed;
  believed.dry_fraction = station.dry_fraction * (careful_ ? 1.0 : uniform(random_, 0.985, 1.015));
  const auto needed = dose_for_water(fresh, rest, Profile{}.target, believed, station.set_point);
  if (!needed) {  // too salty a rest
    plant_.drain();
    return;
  }
  double slip = 1.0;
  if (wrong_dose_ && chance(0.5))
    slip = uniform(random_, 0.7, 1.3);
  const bool noted_as_is = chance(0.5);
  dose(fresh, needed->salt * slip, needed->salt * (noted_as_is ? slip : 1.0), now);
}

void Keeper::dose(Litres fresh, Grams salt, Grams noted, MonoTime now) {
  const StationTraits& station = plan_.station;
  const Celsius warm = careful_ || chance(0.6) ? station.set_point : Celsius(18.0);
  const bool begins_first = !station.has_level || chance(0.3);
  // Between two acts the level is looked at more than once.
  const Duration filled = begins_first ? 4min : 0min;
  const Duration begun = begins_first ? 2min : 4min;
  later(now + 1min, [] {});
  later(now + filled, [this, fresh, warm] { plant_.fill(fresh, warm); });
  later(now + begun, [this, at = now + begun] {
    hands_in(at);
    std::string members = R"("lot":"H-2291","profile":"reef")";
    if (dried_a_sample_)
      members += fmt::format(R"(,"dry_fraction":{:.3f})", plan_.station.dry_fraction);
    send("begin", members, Origin::Local, at);
  });
  later(now + 8min, [this, salt, at = now + 8min] {
    hands_in(at);
    plant_.salt(salt);
  });
  later(now + 9min, [this, begins_first, fresh, noted, at = now + 9min] {
    std::string members = fmt::format(R"("salt":"{:.1f} g")", noted.value());
    if (begins_first)
      members += fmt::format(R"(,"water":"{:.2f} L")", fresh.value());
    note(members, at);
  });
}

void Keeper::note(const std::string& members, MonoTime now) {
  hands_in(now);
  send("note", members, Origin::Local, now);
}

void Keeper::abandon(MonoTime now) {
  if (!careful_ && chance(0.1))
    send("stop", "", Origin::Local, now);
  if (careful_)
    send("stop", "", Origin::Local, now);
  send("abandon", "", Origin::Local, now);
  next_look_ = now + 2min;
}

// The cell hangs in the standard for some minutes; what it then shows is told to be the standard.
void Keeper::calibrate(std::size_t cell, double said_over_true, MonoTime now) {
  plant_.clean(cell);
  plant_.dip(cell, MilliSiemensPerCm(standard.value() / said_over_true));
  later(now + 4min, [this, cell, said_over_true, at = now + 4min] {
    ask_calibration(cell, said_over_true, at);
  });
}

// Whoever is told to wait asks again while the cell hangs in the standard.
void Keeper::ask_calibration(std::size_t cell, double said_over_true, MonoTime now, int times) {
  send("calibrate",
       fmt::format(R"("probe":"{}","standard":"{:.2f} mS/cm","at":"25 C")",
                   cell == 0 ? "cell_a" : "cell_b", standard.value()),
       Origin::Local, now);
  // Where the disk takes nothing the daemon goes by it and cannot say so.
  plant_.calibrated(cell, said_over_true, false);
  const auto done = std::make_shared<bool>(false);
  waiting_[fmt::format("k{}", ids_)] = [this, cell, said_over_true, done](bool ok) {
    *done = ok;
    plant_.calibrated(cell, said_over_true, ok);
  };
  later(now + 2min, [this, cell, said_over_true, times, done, at = now + 2min] {
    if (*done || times == 0)
      plant_.dip(cell, std::nullopt);
    else
      ask_calibration(cell, said_over_true, at, times - 1);
  });
}

void Keeper::answered(const std::string& id, const std::string& payload, MonoTime now) {
  if (id == std::exchange(asked_status_, ""))
    return look(payload, now);
  const bool ok = payload.find("\"ok\":true") != std::string::npos;
  if (!ok)
    watch_.tell("answered: " + payload, now);
  const auto found = waiting_.find(id);
  if (found == waiting_.end())
    return;
  const auto then = std::move(found->second);
  waiting_.erase(found);
  then(ok);
}

void Keeper::send(const std::string& what, const std::string& members, Origin origin, MonoTime now,
                  bool asks_change) {
  Letter letter;
  letter.request.id = fmt::format("k{}", ++ids_);
  letter.request.asks_change = asks_change;
  letter.request.may_be_unwritten = what == "stop";
  letter.origin = origin;
  const std::string text = what == "note" ? fmt::format(R"(,"text":"{}")", letter.request.id) : "";
  letter.payload = fmt::format(R"({{"id":"{}","station":"{}","do":"{}"{}{}{}}})", letter.request.id,
                               station_name, what, members.empty() ? "" : ",", members, text);
  watch_.tell("asked: " + letter.payload, now);
  send_(letter);
  if (repeats_ && (what == "change" || what == "note") && chance(0.7)) {
    letter.request.asks_change = asks_change;
    later(now + between(1s, chance(0.5) ? Duration(30s) : Duration(3h)),
          [this, letter] { send_(letter); });
  }
}

void Keeper::add_secretly(double size, MonoTime now) {
  hands_in(now);
  const Litres share = plant_.water().volume() * (0.01 + 0.08 * size);
  if (chance(0.7))
    plant_.fill(share, Celsius(20.0));
  else
    plant_.salt(Grams(share.value() * 30.0));
}

// What no network may ask, what is retained, and what is no request at all.
void Keeper::ask_hostile(MonoTime now) {
  watch_.tell("hostile requests", now);
  const auto hostile = [&](std::string payload, Mark refusal, bool retained = false) {
    Letter letter;
    letter.request.expected = Expected::Refusal;
    letter.request.refusal = refusal;
    letter.origin = Origin::Network;
    letter.payload = std::move(payload);
    letter.retained = retained;
    send_(std::move(letter));
  };
  const auto network = [&](const std::string& members) {
    hostile(fmt::format(R"({{"id":"x{}","station":"mixer",{}}})", ++ids_, members),
            Mark::NetworkActRefused);
  };
  hostile(R"({"id":"r","station":"mixer","do":"change","volume":"5 L"})",
          Mark::RetainedRequestRefused, true);
  hostile("", Mark::HostileRequestRefused);
  hostile("{", Mark::HostileRequestRefused);
  hostile(std::string(200, '['), Mark::HostileRequestRefused);
  hostile("\xff\xfe{\"do\":\"change\"}", Mark::HostileRequestRefused);
  hostile(std::string(40000, 'x'), Mark::HostileRequestRefused);
  hostile(R"({"do":"change","volume":"5 L"})", Mark::HostileRequestRefused);  // without an id
  hostile(R"({"id":"y","do":"change","volume":"1e308 L"})", Mark::HostileRequestRefused);
  hostile(R"({"id":"y2","do":"change","volume":"nan L"})", Mark::HostileRequestRefused);
  hostile(R"({"id":"y3","do":"open"})", Mark::HostileRequestRefused);
  hostile(R"({"id":"y4","do":"change","volume":"5 L","max_volume":"900 L"})",
          Mark::HostileRequestRefused);
  network(R"("do":"begin","lot":"H-2291","profile":"reef")");
  network(R"("do":"acknowledge","alarm":"pump-running-while-shut")");
  network(R"("do":"calibrate","probe":"cell_a","standard":"53.07 mS/cm")");
  network(R"("do":"verify","probe":"cell_a","shows":"53.07 mS/cm")");
  network(R"("do":"abandon")");
  network(R"("do":"note","salt_total":"1 kg")");
  network(R"("do":"note","removed":"3 L")");
}

}  // namespace brinegate::sim
