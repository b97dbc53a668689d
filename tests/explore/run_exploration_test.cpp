// SPDX-License-Identifier: Apache-2.0
// Every course of a run of the pump, by every level and flow that may be seen at every step (S6).
// Its key is its whole state: nothing is taken for one that is not.
#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <string>
#include <vector>

#include <gtest/gtest.h>

#include "rules/water_change.h"
#include "tests/explore/exploration.h"
#include "tests/explore/run_key.h"

namespace brinegate::explore {
namespace {

using namespace std::chrono_literals;

constexpr Duration tick = 1min;
constexpr int longest = 5;  // ticks
constexpr int no_flow = 2;  // ticks
constexpr double step_litres = 10.0;
constexpr double rounding = 1e-9;

enum class Level { Same, Falls, Rises, None };

struct RunLetter {
  Level level = Level::Same;
  std::optional<double> flow;
};

struct RunWorld {
  PumpRun run;
  MonoTime now{1h};
  std::optional<ChangeEnd> ended;
  double litres = 50.0;
  // What the test itself knows.
  int ticks = 0;
  int still = 0;               // ticks in which nothing moved that had not moved before
  std::vector<double> levels;  // all that were seen
  double flowed = 0.0;
};

class RunSystem {
 public:
  using State = RunWorld;

  RunSystem(double asked, bool level_at_start) : asked_(asked), level_at_start_(level_at_start) {
    station_.low_level = Litres(25.0);
    station_.pump.emplace();
    station_.pump->max_volume = Litres(35.0);
    station_.pump->max_run = longest * tick;
    station_.pump->no_flow_after = no_flow * tick;
    for (const Level level : {Level::Same, Level::Falls, Level::Rises, Level::None})
      for (const auto& flow :
           {std::optional<double>{}, std::optional(0.0), std::optional(8.0)})  // L/min, so L a tick
        alphabet_.push_back({level, flow});
  }

  [[nodiscard]] RunWorld start() const {
    RunWorld world;
    FlowEvidence evidence;
    if (level_at_start_) {
      evidence.volume = Litres(world.litres);
      world.levels.push_back(world.litres);
    }
    world.run = PumpRun(evidence, world.now);
    return world;
  }
  [[nodiscard]] std::size_t letters() const { return alphabet_.size(); }
  [[nodiscard]] std::string name(std::size_t letter) const {
    constexpr std::array<const char*, 4> levels{"the level stays", "it falls", "it rises",
                                                "no level"};
    const RunLetter& l = alphabet_[letter];
    return std::string(levels[static_cast<std::size_t>(l.level)]) +
           (l.flow ? ", flow " + std::to_string(*l.flow) : ", no flow probe");
  }

  std::string step(RunWorld& world, std::size_t letter) const {
    if (world.ended)
      return "";
    const RunLetter& l = alphabet_[letter];
    world.litres += l.level == Level::Falls   ? -step_litres
                    : l.level == Level::Rises ? step_litres
                                              : 0.0;
    FlowEvidence evidence;
    if (l.level != Level::None)
      evidence.volume = Litres(world.litres);
    if (l.flow)
      evidence.flow = LitresPerMinute(*l.flow);
    world.now += tick;
    world.run.step(evidence, world.now);
    world.ended = limit_of(world.run, station_, Litres(asked_), world.now);
    const auto& seen = world.levels;
    const bool lower = evidence.volume && !seen.empty() &&
                       world.litres < *std::min_element(seen.begin(), seen.end());
    const bool moves = lower || l.flow.value_or(0.0) > 0.0;
    ++world.ticks;
    world.still = moves ? 0 : world.still + 1;
    world.flowed += l.flow.value_or(0.0);
    if (evidence.volume)
      world.levels.push_back(world.litres);
    return judge(world);
  }

  [[nodiscard]] std::string key(const RunWorld& world) const {
    std::string key;
    if (world.ended) {
      put(key, static_cast<int>(*world.ended));
      return key;
    }
    put_run(key, world.run, world.now);
    put(key, world.ticks);
    put(key, world.still);
    for (const double level : world.levels)
      put(key, std::lround(level));
    return key;
  }

  // It ends of itself.
  [[nodiscard]] std::optional<std::size_t> well(const RunWorld& world) const {
    return world.ended ? std::nullopt : std::optional<std::size_t>(0);
  }

 private:
  // The level is smoothed, by half of what is new: after so many samples at most so high, it is at
  // most so far above.
  static double highest_believed(const std::vector<double>& levels) {
    const double highest = *std::max_element(levels.begin(), levels.end());
    double lowest_bound = highest;
    double at_most = levels.back();
    double share = 1.0;
    for (auto level = levels.rbegin(); level + 1 != levels.rend(); ++level) {
      at_most = std::max(at_most, *level);
      share /= 2.0;
      lowest_bound = std::min(lowest_bound, at_most + (highest - at_most) * share);
    }
    return lowest_bound;
  }

  std::string judge(const RunWorld& world) const {
    const double lowest =
        world.levels.empty() ? 0.0 : *std::min_element(world.levels.begin(), world.levels.end());
    const double fallen = world.levels.empty() ? 0.0 : world.levels.front() - lowest;
    const double at_most = std::max(fallen, world.flowed);
    const double at_least =
        world.levels.empty()
            ? world.flowed
            : std::max(world.flowed, world.levels.front() - highest_believed(world.levels));
    const double drawn = world.run.drawn().value();
    const double enough = std::min(asked_, station_.pump->max_volume.value());
    if (drawn > at_most + rounding || drawn < at_least - rounding)
      return "counts " + std::to_string(drawn) + " L as drawn";
    if (!world.ended) {
      const bool low =
          !world.levels.empty() && highest_believed(world.levels) <= station_.low_level.value();
      return world.ticks >= longest                          ? "runs longer than it may"
             : at_least >= enough                            ? "runs past its volume"
             : world.still >= std::max(no_flow, world.ticks) ? "runs though nothing has moved"
             : low                                           ? "runs below the low level"
                                                             : "";
    }
    switch (*world.ended) {
      case ChangeEnd::VolumeReached:
        return at_most >= enough - rounding ? "" : "ends before its volume";
      case ChangeEnd::ReservoirLow:
        return lowest <= station_.low_level.value() ? "" : "ends at a level that is not low";
      case ChangeEnd::TimeLimit:
        return world.ticks >= longest ? "" : "ends before its time";
      case ChangeEnd::NoFlow:
        return world.still >= no_flow ? "" : "ends though water moves";
      default:
        return "ends for what is not its own to tell";
    }
  }

  double asked_;
  bool level_at_start_;
  StationSpec station_;
  std::vector<RunLetter> alphabet_;
};

TEST(RunExploration, EveryRunEndsInTimeAndForTheReasonItGives) {
  for (const double asked : {25.0, 100.0}) {
    for (const bool level_at_start : {true, false}) {
      const RunSystem system(asked, level_at_start);
      const Exploration exploration(system);
      exploration.print("run of the pump");
      EXPECT_EQ(exploration.violation(), "");
    }
  }
}

}  // namespace
}  // namespace brinegate::explore
