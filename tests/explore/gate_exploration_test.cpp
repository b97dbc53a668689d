// SPDX-License-Identifier: Apache-2.0
// Every state of the gate, by everything that a round can bring it (S1, S11).
#include <algorithm>
#include <array>
#include <optional>
#include <string>
#include <vector>

#include <gtest/gtest.h>

#include "rules/gate.h"
#include "tests/explore/exploration.h"

namespace brinegate::explore {
namespace {

using namespace std::chrono_literals;

constexpr std::array<const char*, 3> ids{"", "b-p1", "b-p2"};
constexpr int dwell = 3;  // s; a round each second

struct GateLetter {
  std::optional<CheckId> unmet;
  bool wanted = false;
  std::size_t offered = 0;    // of ids
  std::size_t on_record = 0;  // of ids
};

struct GateWorld {
  Gate gate;
  MonoTime now{1h};
  int met = 0;      // rounds in a row in which every check was met, at most dwell + 1
  std::string due;  // the permit that may open it
};

class GateSystem {
 public:
  using State = GateWorld;

  GateSystem() {
    for (const auto& unmet : {std::optional<CheckId>{}, std::optional(CheckId::NoLeak),
                              std::optional(CheckId::OnTarget)})
      for (const bool wanted : {false, true})
        for (std::size_t offered = 0; offered < ids.size(); ++offered)
          for (std::size_t on_record = 0; on_record < ids.size(); ++on_record)
            alphabet_.push_back({unmet, wanted, offered, on_record});
  }

  [[nodiscard]] GateWorld start() const { return {}; }
  [[nodiscard]] std::size_t letters() const { return alphabet_.size(); }
  [[nodiscard]] std::string name(std::size_t letter) const {
    const GateLetter& l = alphabet_[letter];
    return (l.unmet ? "unmet " + std::to_string(static_cast<int>(*l.unmet)) : "all met") +
           (l.wanted ? ", wanted" : "") + ", offered " + ids[l.offered] + ", on record " +
           ids[l.on_record];
  }

  std::string step(GateWorld& world, std::size_t letter) const {
    const GateLetter& l = alphabet_[letter];
    GateInputs inputs;
    inputs.every_check_met = !l.unmet;
    inputs.first_unmet = l.unmet;
    inputs.wanted = l.wanted;
    if (l.offered != 0)
      inputs.permit = Permit{ids[l.offered], "b", "H-2291", 0.001, Litres(40.0)};
    if (l.on_record != 0)
      inputs.on_record = ids[l.on_record];
    inputs.dwell = dwell * 1s;
    const GateWorld before = world;
    world.now += 1s;
    const GateChange change = world.gate.step(inputs, world.now);
    return judge(before, l, change, world);
  }

  [[nodiscard]] std::string key(const GateWorld& world) const {
    std::string key = (world.gate.permit() ? world.gate.permit()->id : "-") + " " + world.due + " ";
    put(key, world.gate.state() == GateState::Open);
    put(key, world.gate.first_out() ? static_cast<int>(*world.gate.first_out()) : -1);
    const auto left = world.gate.dwell_left(dwell * 1s, world.now);
    put(key, left ? left->count() : -1);
    put(key, world.met);
    return key;
  }

  [[nodiscard]] std::optional<std::size_t> well(const GateWorld& world) const {
    if (world.gate.state() == GateState::Open)
      return std::nullopt;
    const std::size_t asked = world.gate.permit() && world.gate.permit()->id == ids[2] ? 2 : 1;
    for (std::size_t letter = 0; letter < alphabet_.size(); ++letter) {
      const GateLetter& l = alphabet_[letter];
      if (!l.unmet && l.wanted && l.offered == asked && l.on_record == asked)
        return letter;
    }
    return std::nullopt;
  }

 private:
  static std::string judge(const GateWorld& before, const GateLetter& l, GateChange change,
                           GateWorld& world) {
    const bool was_open = before.gate.state() == GateState::Open;
    const bool is_open = world.gate.state() == GateState::Open;
    world.met = l.unmet ? 0 : std::min(before.met + 1, dwell + 1);
    if (change == GateChange::PermitNeeded)
      world.due = ids[l.offered];
    if (change == GateChange::PermitWithdrawn || change == GateChange::Shut)
      world.due.clear();
    if (is_open && (l.unmet || !l.wanted))
      return "open without its reasons";
    if (is_open && (!world.gate.permit() || world.gate.permit()->id != world.due))
      return "open without its permit";
    if (!was_open && is_open && (before.due.empty() || ids[l.on_record] != before.due))
      return "opened on a permit that was not on record";
    if (change == GateChange::PermitNeeded && world.met <= dwell)
      return "asked for a permit before the dwell was over";
    if ((change == GateChange::Opened) != (!was_open && is_open) ||
        (change == GateChange::Shut) != (was_open && !is_open))
      return "does not say what it did";
    if (was_open && !is_open && world.gate.first_out() != l.unmet)
      return "the first-out is not the check that shut it";
    if (change == GateChange::PermitWithdrawn && (l.wanted && !l.unmet))
      return "withdrew a permit for no reason";
    if (!is_open && !world.due.empty() && (l.unmet || !l.wanted))
      return "keeps a permit that nothing wants";
    return "";
  }

  std::vector<GateLetter> alphabet_;
};

TEST(GateExploration, NoReachableStateIsOpenWithoutItsReasonsOrStaysShutWhenAllIsWell) {
  const GateSystem system;
  const Exploration exploration(system);
  exploration.print("gate");
  EXPECT_EQ(exploration.violation(), "");
  EXPECT_EQ(exploration.longest_way(), dwell + 2U);
  EXPECT_GT(exploration.states(), 20U);
}

}  // namespace
}  // namespace brinegate::explore
