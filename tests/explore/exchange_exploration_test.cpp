// SPDX-License-Identifier: Apache-2.0
// S19, over whatever the drain, the pump and a siphon do: one pump at a time, never more out than
// one portion, never more in than was drained or asked, and nothing after the two have parted.
#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <string>

#include <gtest/gtest.h>

#include "rules/water_change.h"
#include "tests/explore/exploration.h"

namespace brinegate::explore {
namespace {

using namespace std::chrono_literals;

constexpr Duration tick = 10s;       // as long as both pumps stand between two runs
constexpr double step_litres = 5.0;  // what a pump moves in a tick
constexpr double portion_litres = 10.0;
constexpr double asked_litres = 20.0;
constexpr double tolerance_litres = 4.0;
constexpr double full_litres = 500.0;
constexpr int samples = 8;         // in a tick: the smoothed level comes to rest
constexpr int longest_drain = 10;  // ticks

// What the water does in one tick, whatever it ought to.
struct WaterLetter {
  bool drains = true;   // the drain obeys
  bool arrives = true;  // what the pump moves reaches the tank
  bool siphon = false;
  const char* name = "all is well";
};
constexpr std::array<WaterLetter, 4> alphabet{{{},
                                               {false, true, false, "the drain moves nothing"},
                                               {true, false, false, "the hose has slipped off"},
                                               {true, true, true, "a siphon"}}};

struct ExchangeWorld {
  std::optional<TankExchange> exchange;
  MonoTime now{1000h};
  double tank = full_litres;
  double drained = 0.0;
  double returned = 0.0;
  std::optional<ChangeEnd> ended;
};

class ExchangeSystem {
 public:
  using State = ExchangeWorld;

  ExchangeSystem() {
    drain_.pump.readback_within = tick / 2;
    drain_.pump.max_run = longest_drain * tick;
    drain_.pump.no_flow_after = 3 * tick;
    drain_.portion = Litres(portion_litres);
    drain_.tolerance = Litres(tolerance_litres);
  }

  [[nodiscard]] ExchangeWorld start() const {
    ExchangeWorld world;
    world.exchange =
        TankExchange(drain_, Litres(asked_litres), {Litres(full_litres), {}}, world.now);
    return world;
  }
  [[nodiscard]] std::size_t letters() const { return alphabet.size(); }
  [[nodiscard]] std::string name(std::size_t letter) const { return alphabet[letter].name; }

  std::string step(ExchangeWorld& world, std::size_t letter) const {
    if (world.ended)
      return "";
    const WaterLetter& l = alphabet[letter];
    world.now += tick;
    const ExchangePhase phase = world.exchange->phase();
    const bool drains = phase == ExchangePhase::Draining;
    if (drains && l.drains) {
      world.drained += step_litres;
      world.tank -= step_litres;
    }
    if (phase == ExchangePhase::Returning) {
      world.returned += step_litres;
      world.tank += l.arrives ? step_litres : 0.0;
    }
    world.tank -= l.siphon ? step_litres : 0.0;
    for (int sample = samples; sample-- > 0 && !world.ended;) {
      const MonoTime at = world.now - sample * (tick / samples);
      world.exchange->step(drain_, {Litres(world.tank), {}}, Litres(world.returned), at);
      world.ended = limit_of(*world.exchange, drain_, at);
      if (!world.ended && world.exchange->complete())
        world.ended = ChangeEnd::VolumeReached;
    }
    return judge(world, phase);
  }

  [[nodiscard]] std::string key(const ExchangeWorld& world) const {
    std::string key;
    put(key, world.ended ? static_cast<int>(*world.ended) : -1);
    if (world.ended)
      return key;
    const auto whole = [](double litres) { return std::llround(litres); };
    const TankExchange& exchange = *world.exchange;
    put(key, static_cast<int>(exchange.phase()));
    put(key, whole(world.tank));
    put(key, whole(world.drained));
    put(key, whole(world.returned));
    put(key, whole(exchange.amounts().drained.value()));
    put(key, whole(exchange.amounts().tank_lacks->value()));
    put(key, whole(exchange.to_drain().value()));
    put(key, std::min<std::int64_t>(exchange.drain_run().still_for(world.now) / tick, 3));
    put(key, exchange.drained_for(world.now) / tick);
    const auto& volume = exchange.drain_run().volume();
    put(key, volume ? whole(volume->value()) : -1);
    return key;
  }

  [[nodiscard]] std::optional<std::size_t> well(const ExchangeWorld& world) const {
    return world.ended ? std::nullopt : std::optional<std::size_t>(0);
  }

 private:
  [[nodiscard]] static std::string judge(const ExchangeWorld& world, ExchangePhase before) {
    const TankExchange& exchange = *world.exchange;
    const ExchangePhase now = exchange.phase();
    const double most_out = portion_litres + 2 * step_litres + tolerance_litres;
    if (world.drained - world.returned > most_out)
      return "more than a portion was drained before any was returned";
    if (world.returned > asked_litres + step_litres)
      return "more was returned than was asked for";
    if (before == ExchangePhase::Draining && now == ExchangePhase::Returning)
      return "the pump follows the drain without a pause";
    const bool parted = full_litres - world.tank > most_out + 3 * step_litres;
    if (!world.ended && parted && now == ExchangePhase::Draining)
      return "drains on though the tank lacks more than a portion";
    if (world.ended == ChangeEnd::VolumeReached && !exchange.unbalanced() &&
        std::abs(full_litres - world.tank) > tolerance_litres + step_litres + 0.5)
      return "is told to be balanced and is not";
    return "";
  }

  DrainSpec drain_;
};

TEST(ExchangeExploration, NeverLeavesMoreThanAPortionMissingAndAlwaysEnds) {
  const ExchangeSystem system;
  const Exploration exploration(system);
  exploration.print("exchange");
  EXPECT_EQ(exploration.violation(), "");
  EXPECT_GT(exploration.states(), 20U);
}

}  // namespace
}  // namespace brinegate::explore
