// SPDX-License-Identifier: Apache-2.0
// What is held against the truth of the water and the relay.
#include <algorithm>
#include <cmath>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "rules/profile.h"
#include "sim/faults/virtual_site.h"
#include "sim/faults/watch.h"

namespace brinegate::sim {
namespace {

using namespace std::chrono_literals;

constexpr Celsius temperature_allowance{0.3};
// Samples that confirm a jump, a turn, and the deadline of a probe that is lost meanwhile.
constexpr Duration deciding = 10s;
// A first-order lag has covered all but a thousandth after so many time constants.
constexpr int lags = 7;

bool off_profile(const Reservoir& water) {
  const Profile profile;  // the only one that a virtual site has
  const bool salinity =
      std::abs((water.salinity() - profile.target).value()) > profile.tolerance.value();
  const Celsius t = water.temperature();
  return salinity || t > profile.temperature_high + temperature_allowance ||
         t < profile.temperature_low - temperature_allowance;
}

}  // namespace

void Watch::see(const Plant& plant, const WorldStep& step, Instant now) {
  tally_.station_seconds += seconds(step.dt);
  check_lease(plant, step, now.mono);
  check_water(plant, step, now.mono);
  check_run(plant, now.mono);
  check_read_back(plant, step, now.mono);
  check_level(plant, step, now.mono);
}

void Watch::check_lease(const Plant& plant, const WorldStep& step, MonoTime now) {
  if (step.foreign_on || !plant.relay().pump_coil(now))
    return;
  check(Invariant::Lease, last_on_until_ && now <= *last_on_until_,
        "the pump's relay is on beyond its lease", now);
}

void Watch::check_water(const Plant& plant, const WorldStep& step, MonoTime now) {
  Unavoidable& apart = tally_.unavoidable;
  const double dt = seconds(step.dt);
  const bool honest = plant.some_cell_is_honest() || step.claims_honest;
  if (!honest)
    honest_since_.reset();
  else if (!honest_since_)
    honest_since_ = now;
  if (plant.siphoning())
    apart.siphon_s += dt;
  if (!off_profile(plant.water()))
    off_profile_since_.reset();
  else if (!off_profile_since_)
    off_profile_since_ = now;
  if (!plant.pumping())
    return;
  if (plant.relay().welded()) {
    apart.welded_s += dt;
    return;
  }
  if (step.foreign_on) {
    apart.second_master_s += dt;
    return;
  }
  tally_.pumped_s += dt;
  count(Invariant::GoodWater);
  if (!off_profile_since_)
    return;
  const Duration since = now - std::max(*off_profile_since_, honest_since_.value_or(now));
  const Duration lease = daemon_->configured().spec.pump->lease;
  if (!honest)
    apart.without_honest_cell_s += dt;
  else if (since <= lags * plant.slowest_lag() + deciding + lease)
    apart.before_any_cell_s += dt;
  else
    check(Invariant::GoodWater, false,
          fmt::format("pumps at salinity {:.3f}, {:.2f} C, for {:.0f} s off its profile",
                      plant.water().salinity().value(), plant.water().temperature().value(),
                      seconds(since)),
          now);
}

void Watch::check_run(const Plant& plant, MonoTime now) {
  const bool runs = plant.pump_powered(now) && on_until_ && !plant.relay().welded();
  if (!runs)
    powered_since_.reset();
  else if (!powered_since_)
    powered_since_ = now;
  if (!runs)
    return;
  const PumpSpec& pump = *daemon_->configured().spec.pump;
  check(Invariant::RunLimit, now - *powered_since_ <= pump.max_run + pump.lease + deciding,
        "runs beyond its time limit", now);
}

// Power without the daemon's leave, where the read-back says so all the time.
void Watch::check_read_back(const Plant& plant, const WorldStep& step, MonoTime now) {
  const bool runs_unpermitted = started_ && plan_.station.has_readback && step.readback_arrives &&
                                !on_until_ && plant.pump_powered(now);
  if (!runs_unpermitted)
    unpermitted_since_.reset();
  else if (!unpermitted_since_)
    unpermitted_since_ = now;
  if (!unpermitted_since_)
    return;
  const PumpSpec& pump = *daemon_->configured().spec.pump;
  const Duration within = pump.readback_within + 3 * std::max<Duration>(step.dt, 1s);
  if (now - *unpermitted_since_ <= within)
    return;
  const bool seen = alarm_stands("pump-running-while-shut");
  check(Invariant::ReadBackAlarm, seen,
        fmt::format("{:.0f} s of power and no alarm", seconds(now - *unpermitted_since_)), now);
  if (seen)
    reach(step.foreign_on ? Mark::SecondMasterSeen : Mark::WeldedRelaySeen);
}

// S20: what leaves while shut, faster than water evaporates.
void Watch::check_level(const Plant& plant, const WorldStep& step, MonoTime now) {
  constexpr Duration reference_lasts = 10min;
  constexpr Duration smoothed_within = 60s;
  const bool watched = started_ && now - *started_ > 30s && !on_until_ && now - off_at_ > 30s &&
                       step.level_arrives && !step.water_moved_by_hand &&
                       (phase_ == "proven" || phase_ == "mixing");
  const Litres volume = plant.water().volume();
  if (!watched || !level_reference_ || now - level_reference_at_ > reference_lasts) {
    level_reference_ = watched ? std::optional(volume) : std::nullopt;
    level_reference_at_ = now;
    lost_since_.reset();
    return;
  }
  const PumpSpec& pump = *daemon_->configured().spec.pump;
  const Litres margin = plan_.station.capacity * 0.01 + Litres(1.0);
  if (*level_reference_ - volume <= pump.unasked_loss + margin)
    return;
  if (!lost_since_)
    lost_since_ = now;
  if (now - *lost_since_ <= smoothed_within + 6 * step.dt)
    return;
  const bool seen = alarm_stands("level-falling-while-shut");
  check(Invariant::LevelAlarm, seen,
        fmt::format("{:.1f} L have left and no alarm", (*level_reference_ - volume).value()), now);
  if (seen && plant.siphoning())
    reach(Mark::SiphonSeen);
}

void Watch::see_turn(const Plant& plant, Instant now) {
  if (daemon_->take_foreign_on())
    reach(Mark::SecondMasterUndone);
  if (plant.relay().welded() && !plant.relay().second_cutoff() && daemon_->runs())
    reach(Mark::CutoffDroppedWelded);
  if (!state_to_be_compared_ || state_.empty())
    return;
  state_to_be_compared_ = false;
  const std::string stored = daemon_->disk().state("station", station_name);
  if (stored.empty())
    return;
  const auto memory = nlohmann::json::parse(stored);
  const auto shows = nlohmann::json::parse(state_);
  const auto& batch = memory.at("batch");
  const std::string before = batch.value("phase", "");
  const std::string after = shows.value("phase", "");
  // Drawn by another hand while nobody watched: that ends the batch, and is told.
  const Litres nearly_nothing = daemon_->configured().spec.low_level + Litres(1.0);
  const bool is_gone = plant.water().volume() <= nearly_nothing;
  const bool none_before = before == "empty" || (batch_ended_since_start_ && is_gone);
  const bool same_batch = none_before || shows.at("batch").is_null()
                              ? none_before == shows.at("batch").is_null()
                              : shows.at("batch").value("id", "") == batch.value("id", "");
  const bool was_proven = before == "proven" || before == "drawing";
  check(Invariant::StateRestored, same_batch && (was_proven || after != "proven"),
        fmt::format("the record says {}, the daemon {}", before, after), now.mono);
}

}  // namespace brinegate::sim
