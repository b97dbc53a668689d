// SPDX-License-Identifier: Apache-2.0
// The person who keeps the station: mixes batches, rightly or wrongly, follows the daemon's advice,
// asks for changes, calibrates and acknowledges. Sees what the daemon publishes, and the vessel.
#pragma once

#include <cstdint>
#include <functional>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include <nlohmann/json_fwd.hpp>

#include "daemon/engine/events.h"
#include "sim/faults/life_plan.h"
#include "sim/faults/plant.h"
#include "sim/faults/watch.h"
#include "sim/random.h"

namespace brinegate::sim {

struct Letter {
  AskedRequest request;
  daemon::Origin origin = daemon::Origin::Local;
  std::string payload;
  bool retained = false;
};

class Keeper {
 public:
  using Send = std::function<void(Letter)>;

  Keeper(const LifePlan& plan, Plant& plant, Watch& watch, Send send);

  // When something is to be done next.
  [[nodiscard]] MonoTime due() const;
  void act(MonoTime now);
  // From now on everything is done right, and soon.
  void become_careful(MonoTime now);
  void set_habits(bool wrong_dose, bool repeats) {
    wrong_dose_ = wrong_dose;
    repeats_ = repeats;
  }
  // The answer to a request of the keeper's.
  void answered(const std::string& id, const std::string& payload, MonoTime now);
  void add_secretly(double size, MonoTime now);
  void calibrate_wrongly(double size, MonoTime now) { calibrate(0, 0.96 + 0.08 * size, now); }
  void ask_hostile(MonoTime now);
  // Water was poured or taken by hand in this step or shortly before.
  [[nodiscard]] bool has_hands_in(MonoTime now) const { return now < hands_until_; }
  [[nodiscard]] bool asked_change_at(MonoTime now) const { return change_asked_at_ == now; }

 private:
  void look(const std::string& status, MonoTime now);
  void acknowledge(const nlohmann::json& state, MonoTime now);
  void look_at_mixing(const nlohmann::json& state, MonoTime now);
  void look_at_proven(const nlohmann::json& state, MonoTime now);
  void look_at_rejected(const nlohmann::json& state, MonoTime now);
  void mix(MonoTime now);
  void dose(Litres fresh, Grams salt, Grams noted, MonoTime now);
  void look_into_disputed_dose(const nlohmann::json& state, MonoTime now);
  void follow(const nlohmann::json& advice, MonoTime now);
  void ask_change(MonoTime now);
  void let_run(MonoTime now);
  void calibrate(std::size_t cell, double said_over_true, MonoTime now);
  void ask_calibration(std::size_t cell, double said_over_true, MonoTime now, int times = 2);
  void abandon(MonoTime now);
  void note(const std::string& members, MonoTime now);
  void send(const std::string& what, const std::string& members, daemon::Origin origin,
            MonoTime now, bool asks_change = false);
  void later(MonoTime at, std::function<void()> errand) { errands_.emplace(at, std::move(errand)); }
  void hands_in(MonoTime now) { hands_until_ = now + std::chrono::minutes(12); }
  bool chance(double p) { return uniform(random_, 0.0, 1.0) < p; }
  Duration between(Duration low, Duration high) {
    return from_seconds(uniform(random_, seconds(low), seconds(high)));
  }

  const LifePlan& plan_;
  Plant& plant_;
  Watch& watch_;
  Send send_;
  Random random_;
  std::multimap<MonoTime, std::function<void()>> errands_;
  MonoTime next_look_;
  MonoTime hands_until_{};
  std::optional<MonoTime> change_asked_at_;
  bool careful_ = false;
  bool dried_a_sample_ = false;
  bool calibrated_all_ = false;
  bool wrong_dose_ = false;
  bool repeats_ = false;
  bool corrected_ = false;
  std::optional<MonoTime> mixing_since_;
  MonoTime next_change_{};
  MonoTime idle_until_{};                                        // between two batches
  int runs_ = 0;                                                 // of this batch, "while proven"
  std::map<std::string, std::function<void(bool ok)>> waiting_;  // by id
  std::string asked_status_;                                     // its id
  std::uint64_t ids_ = 0;
};

}  // namespace brinegate::sim
