// SPDX-License-Identifier: Apache-2.0
// S18, exactly: in whatever order changes are asked for, the contact reads and the level moves, a
// hold is confirmed only by a contact that was seen free before, goes on while it is wanted, and is
// let go in the end.
#include <algorithm>
#include <string>
#include <vector>

#include <gtest/gtest.h>

#include "rules/hold_off.h"
#include "tests/explore/exploration.h"
#include "tests/explore/revealed.h"

namespace brinegate::explore {

BRINEGATE_REVEAL(hold_asked_since, HoldOff, asked_since_);
BRINEGATE_REVEAL(hold_wanted_at, HoldOff, wanted_at_);
BRINEGATE_REVEAL(hold_moved_at, HoldOff, moved_at_);
BRINEGATE_REVEAL(hold_level, HoldOff, level_);
BRINEGATE_REVEAL(hold_seen_free, HoldOff, seen_free_);
BRINEGATE_REVEAL(hold_let_go_at, HoldOff, let_go_at_);

namespace {

using namespace std::chrono_literals;

constexpr Duration tick = 20s;
constexpr int within = 2;  // ticks in which it must confirm
constexpr int rest = 2;    // ticks in which the level must rest
constexpr int longest = 10 * rest;

struct HoldLetter {
  bool begins = false;
  bool wanted = false;
  std::optional<bool> held;
  std::optional<double> litres;
};

struct HoldWorld {
  HoldOff hold;
  MonoTime now{1000h};
  bool free_seen = false;  // since it was last let go
  int unwanted = 0;        // ticks, at most longest
};

class HoldSystem {
 public:
  using State = HoldWorld;

  HoldSystem() {
    spec_.confirm_within = within * tick;
    spec_.rest = rest * tick;
    for (const bool wanted : {false, true})
      for (const std::optional<bool> held :
           {std::optional<bool>(), std::optional(false), std::optional(true)})
        for (const std::optional<double> litres :
             {std::optional<double>(), std::optional(100.0), std::optional(101.0)})
          alphabet_.push_back({false, wanted, held, litres});
    alphabet_.push_back({true, true, false, std::nullopt});
  }

  [[nodiscard]] HoldWorld start() const { return {}; }
  [[nodiscard]] std::size_t letters() const { return alphabet_.size(); }
  [[nodiscard]] std::string name(std::size_t letter) const {
    const HoldLetter& l = alphabet_[letter];
    return std::string(l.begins ? "begins, " : "") + (l.wanted ? "wanted" : "not wanted") +
           (!l.held   ? ", contact silent"
            : *l.held ? ", reads held"
                      : ", reads free") +
           (l.litres ? ", " + std::to_string(*l.litres) + " L" : "");
  }

  std::string step(HoldWorld& world, std::size_t letter) const {
    const HoldLetter& l = alphabet_[letter];
    world.now += tick;
    const bool was_asked = world.hold.asked();
    if (l.begins)
      world.hold.begin(world.now);
    HoldOffEvidence evidence{l.wanted, l.held, std::nullopt};
    if (l.litres)
      evidence.level = Litres(*l.litres);
    world.hold.step(spec_, evidence, world.now);
    world.unwanted = l.wanted ? 0 : std::min(world.unwanted + 1, longest);
    const bool asked = world.hold.asked();
    if (was_asked && !asked)
      world.free_seen = false;
    if (!asked && l.held == false)
      world.free_seen = true;
    if (l.wanted && !asked)
      return "is not asked for though it is wanted";
    if (was_asked && !asked && world.unwanted < rest)
      return "is let go before the level can have rested";
    if (asked && world.unwanted >= longest)
      return "is never let go";
    if (world.hold.confirmed() != (asked && l.held == true && world.free_seen))
      return "is confirmed wrongly";
    if (world.hold.confirmed() && world.hold.refused(spec_, world.now))
      return "is refused though it is confirmed";
    if (world.hold.still_held() && (asked || l.held == false))
      return "is still held though the contact reads free";
    return "";
  }

  [[nodiscard]] std::string key(const HoldWorld& world) const {
    const HoldOff& hold = world.hold;
    std::string key;
    const auto age = [&](const std::optional<MonoTime>& at, int most) {
      put(key, at ? std::min<std::int64_t>((world.now - *at) / tick, most) : -1);
    };
    age(hold.*hold_asked_since(), within);
    if (hold.asked()) {
      age(hold.*hold_wanted_at(), longest);
      age(hold.*hold_moved_at(), rest);
      const auto& level = hold.*hold_level();
      put(key, level ? static_cast<int>(level->value()) : -1);
    }
    put(key, hold.*hold_seen_free());
    put(key, hold.confirmed());
    put(key, hold.lost());
    age(hold.*hold_let_go_at(), within);
    put(key, hold.still_held());
    put(key, world.free_seen);
    put(key, world.unwanted);
    return key;
  }

  // Nobody wants it, the level rests, and the contact obeys.
  [[nodiscard]] std::optional<std::size_t> well(const HoldWorld& world) const {
    const bool done = !world.hold.asked() && world.free_seen && !world.hold.still_held();
    if (done)
      return std::nullopt;
    return world.hold.asked() ? letter_of(true) : letter_of(false);
  }

 private:
  [[nodiscard]] std::size_t letter_of(bool held) const {
    const auto found = std::find_if(alphabet_.begin(), alphabet_.end(), [&](const HoldLetter& l) {
      return !l.begins && !l.wanted && l.held == held && l.litres == 100.0;
    });
    return static_cast<std::size_t>(found - alphabet_.begin());
  }

  HoldOffSpec spec_;
  std::vector<HoldLetter> alphabet_;
};

TEST(HoldOffExploration, IsConfirmedRightlyAndLetGoInTheEnd) {
  const HoldSystem system;
  const Exploration exploration(system);
  exploration.print("hold-off");
  EXPECT_EQ(exploration.violation(), "");
  EXPECT_LE(exploration.longest_way(), static_cast<std::size_t>(longest));
  const auto merges = exploration.compare_merged();
  EXPECT_EQ(merges.apart, 0U) << merges.example;
}

}  // namespace
}  // namespace brinegate::explore
