// SPDX-License-Identifier: Apache-2.0
// Every state of the watch over the pump (S5, S14, S20). The read-back and the level do not meet in
// it, so each is explored by itself.
#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <string>
#include <vector>

#include <gtest/gtest.h>

#include "rules/pump_supervision.h"
#include "tests/explore/exploration.h"
#include "tests/explore/revealed.h"

namespace brinegate::explore {

BRINEGATE_REVEAL(contrary_since, PumpSupervision, contrary_since_);
BRINEGATE_REVEAL(asked_on, PumpSupervision, asked_on_);
BRINEGATE_REVEAL(asked_since, PumpSupervision, asked_since_);
BRINEGATE_REVEAL(watched_level, PumpSupervision, level_);

namespace {

using namespace std::chrono_literals;

constexpr Duration tick = 5min;
constexpr int within = 2;  // ticks in which the read-back must follow

PumpSpec pump_with(PermitMode permit) {
  PumpSpec pump;
  pump.permit = permit;
  pump.readback_within = within * tick;
  return pump;
}

struct ReadbackWorld {
  PumpSupervision supervision;
  MonoTime now{1000h};
  std::optional<bool> asked;
  std::optional<int> contrary;  // ticks since it was first seen, at most within + 1
};

// What was asked, and what the read-back says, if anything.
struct ReadbackLetter {
  bool asked = false;
  std::optional<bool> running;
};

class ReadbackSystem {
 public:
  using State = ReadbackWorld;

  explicit ReadbackSystem(PermitMode permit) : pump_(pump_with(permit)) {}

  [[nodiscard]] ReadbackWorld start() const { return {}; }
  [[nodiscard]] std::size_t letters() const { return alphabet.size(); }
  [[nodiscard]] std::string name(std::size_t letter) const {
    const ReadbackLetter& l = alphabet[letter];
    return std::string(l.asked ? "asked on" : "asked off") + (!l.running   ? ", no read-back"
                                                              : *l.running ? ", runs"
                                                                           : ", stands");
  }

  std::string step(ReadbackWorld& world, std::size_t letter) const {
    const ReadbackLetter& l = alphabet[letter];
    world.now += tick;
    world.supervision.step(pump_, {l.asked, l.running, std::nullopt, false}, world.now);
    const bool may_stand = l.asked && pump_.permit == PermitMode::WhileProven;
    if (world.asked != l.asked)
      world.contrary.reset();
    world.asked = l.asked;
    const bool contrary = l.running && *l.running != l.asked && !may_stand;
    if (contrary)
      world.contrary = world.contrary ? std::min(*world.contrary + 1, within + 1) : 0;
    else if (l.running)
      world.contrary.reset();
    else if (world.contrary)
      world.contrary = std::min(*world.contrary + 1, within + 1);
    const bool too_long = contrary && *world.contrary >= within;
    if (world.supervision.running_while_shut() != (too_long && !l.asked))
      return "running while shut is not told in time, or told wrongly";
    if (world.supervision.not_running_while_open() != (too_long && l.asked))
      return "not running while open is not told in time, or told wrongly";
    return "";
  }

  [[nodiscard]] std::string key(const ReadbackWorld& world) const {
    std::string key;
    const auto& asked = world.supervision.*asked_on();
    put(key, asked ? static_cast<int>(*asked) : -1);
    const auto& since = world.supervision.*contrary_since();
    put(key, since ? std::min<std::int64_t>((world.now - *since) / tick, within + 1) : -1);
    put(key, world.contrary.value_or(-1));
    put(key, is_told(world));
    return key;
  }

  [[nodiscard]] std::optional<std::size_t> well(const ReadbackWorld& world) const {
    // It stands, as asked.
    return is_told(world) ? std::optional<std::size_t>(2) : std::nullopt;
  }

 private:
  static constexpr std::array<ReadbackLetter, 6> alphabet{{{false, std::nullopt},
                                                           {false, true},
                                                           {false, false},
                                                           {true, std::nullopt},
                                                           {true, true},
                                                           {true, false}}};
  static bool is_told(const ReadbackWorld& world) {
    return world.supervision.running_while_shut() || world.supervision.not_running_while_open();
  }

  PumpSpec pump_;
};

TEST(SupervisionExploration, TheReadBackIsNamedInTimeAndOnlyThen) {
  for (const PermitMode permit : {PermitMode::PerChange, PermitMode::WhileProven}) {
    const ReadbackSystem system(permit);
    const Exploration exploration(system);
    exploration.print("read-back");
    EXPECT_EQ(exploration.violation(), "");
    EXPECT_EQ(exploration.longest_way(), 1U);
  }
}

enum class LevelAct { Same, Falls, Rises, NoSample, PumpOn, NotWatched, OnPurpose };

struct LevelWorld {
  PumpSupervision supervision;
  MonoTime now{1000h};
  double litres = 100.0;
  int off_for = -1;            // ticks since the pump was told off, at most 2 * within
  std::vector<double> levels;  // seen while it was watched, of the latest two periods
};

class LevelSystem {
 public:
  using State = LevelWorld;

  [[nodiscard]] LevelWorld start() const { return {}; }
  [[nodiscard]] std::size_t letters() const { return names.size(); }
  [[nodiscard]] std::string name(std::size_t letter) const { return names[letter]; }

  std::string step(LevelWorld& world, std::size_t letter) const {
    const auto act = static_cast<LevelAct>(letter);
    if (act == LevelAct::Falls)
      world.litres = 80.0;
    if (act == LevelAct::Rises)
      world.litres = 100.0;
    if (act == LevelAct::OnPurpose) {
      world.supervision.level_changed_on_purpose();
      world.levels.clear();
      return "";
    }
    world.now += tick;
    PumpEvidence evidence{act == LevelAct::PumpOn, std::nullopt, Litres(world.litres),
                          act != LevelAct::NotWatched};
    if (act == LevelAct::NoSample)
      evidence.volume.reset();
    // So many samples that the smoothing has come to rest.
    for (int i = 0; i < samples_a_tick; ++i)
      world.supervision.step(pump_, evidence, world.now + i * 1ms);
    return judge(act, world);
  }

  [[nodiscard]] std::string key(const LevelWorld& world) const {
    std::string key;
    const auto& level = world.supervision.*watched_level();
    for (const auto& volume : {level.smoothed, level.reference, level.next_reference})
      put(key, volume ? std::lround(volume->value()) : -1);
    put(key, level.smoothed
                 ? std::min<std::int64_t>((world.now - level.period_began) / tick, a_period)
                 : -1);
    put(key, world.supervision.falling_while_shut());
    put(key,
        std::min<std::int64_t>((world.now - world.supervision.*asked_since()) / tick, 2 * within));
    put(key, std::lround(world.litres));
    put(key, world.off_for);
    for (const double level_then : world.levels)
      put(key, std::lround(level_then));
    return key;
  }

  [[nodiscard]] std::optional<std::size_t> well(const LevelWorld& world) const {
    if (!world.supervision.falling_while_shut())
      return std::nullopt;
    return 0;  // it stays where it is
  }

 private:
  static constexpr int samples_a_tick = 64;
  static constexpr std::int64_t a_period = 3;  // ticks
  static constexpr std::array<const char*, 7> names{
      "stays", "falls", "rises", "no sample", "the pump is on", "nobody watches", "on purpose"};

  // Not told for longer than it lasts, not told of what has stayed, told of what is lower than all
  // that was seen.
  std::string judge(LevelAct act, LevelWorld& world) const {
    const bool on = act == LevelAct::PumpOn;
    world.off_for = on ? -1 : std::min(world.off_for + 1, 2 * within);
    const bool told = world.supervision.falling_while_shut();
    if (act == LevelAct::NotWatched || world.off_for < 2 * within) {
      world.levels.clear();
      return told ? "tells of a level that nobody is to watch" : "";
    }
    if (act == LevelAct::NoSample)
      return "";
    const auto [lowest, highest] = std::minmax_element(world.levels.begin(), world.levels.end());
    const bool must = !world.levels.empty() && world.litres < *lowest - pump_.unasked_loss.value();
    const bool may = !world.levels.empty() && world.litres < *highest - pump_.unasked_loss.value();
    world.levels.push_back(world.litres);
    if (world.levels.size() > 2 * a_period)
      world.levels.erase(world.levels.begin());
    if (must && !told)
      return "a level below all that was seen is not told";
    return told && !may ? "a level that has not fallen is told" : "";
  }

  PumpSpec pump_ = pump_with(PermitMode::PerChange);
};

TEST(SupervisionExploration, ALevelThatFallsWhileShutIsNamedAndOneThatStaysIsNot) {
  const LevelSystem system;
  const Exploration exploration(system);
  exploration.print("level while shut");
  EXPECT_EQ(exploration.violation(), "");
  EXPECT_LE(exploration.longest_way(), 6U) << "forgotten after two periods at most";
  const auto merges = exploration.compare_merged();
  EXPECT_EQ(merges.apart, 0U) << merges.example;
}

}  // namespace
}  // namespace brinegate::explore
