// SPDX-License-Identifier: Apache-2.0
// Every state of the alarm book against the state table of ISA-18.2: an alarm goes only when its
// condition is gone and a person has acknowledged it.
#include <array>
#include <optional>
#include <string>
#include <vector>

#include <gtest/gtest.h>

#include "rules/alarm.h"
#include "tests/explore/exploration.h"

namespace brinegate::explore {
namespace {

enum class Act { Condition, NoCondition, Raise, Acknowledge, Restore, TakeChanges };

struct AlarmLetter {
  Act act = Act::Condition;
  std::size_t alarm = 0;
  AlarmState restored = AlarmState::Normal;
};

struct Expected {
  bool present = false;
  bool acknowledged = true;
  AlarmState reported = AlarmState::Normal;

  [[nodiscard]] AlarmState state() const {
    if (present)
      return acknowledged ? AlarmState::Acknowledged : AlarmState::Unacknowledged;
    return acknowledged ? AlarmState::Normal : AlarmState::ReturnedUnacknowledged;
  }
};

struct AlarmWorld {
  AlarmBook book;
  std::array<Expected, alarm_count> expected;
};

// So many are explored together: each has a place of its own, as all others have.
constexpr std::size_t together = 7;

// With its changes taken after each act, or as an act of its own.
class AlarmSystem {
 public:
  using State = AlarmWorld;

  AlarmSystem(std::size_t alarms, bool takes_changes_apart)
      : alarms_(alarms), apart_(takes_changes_apart) {
    for (std::size_t alarm = 0; alarm < alarms; ++alarm) {
      for (const Act act : {Act::Condition, Act::NoCondition, Act::Raise, Act::Acknowledge})
        alphabet_.push_back({act, alarm, {}});
      for (const AlarmState state : {AlarmState::Unacknowledged, AlarmState::Acknowledged,
                                     AlarmState::ReturnedUnacknowledged, AlarmState::Normal})
        alphabet_.push_back({Act::Restore, alarm, state});
    }
    if (apart_)
      alphabet_.push_back({Act::TakeChanges, 0, {}});
  }

  [[nodiscard]] AlarmWorld start() const { return {}; }
  [[nodiscard]] std::size_t letters() const { return alphabet_.size(); }
  [[nodiscard]] std::string name(std::size_t letter) const {
    const AlarmLetter& l = alphabet_[letter];
    return "act " + std::to_string(static_cast<int>(l.act)) + " on alarm " +
           std::to_string(l.alarm) + ", state " + std::to_string(static_cast<int>(l.restored));
  }

  std::string step(AlarmWorld& world, std::size_t letter) const {
    const AlarmLetter& l = alphabet_[letter];
    if (l.act == Act::TakeChanges)
      return take_changes(world);
    const auto id = static_cast<AlarmId>(l.alarm);
    Expected& expected = world.expected[l.alarm];
    bool answered = true;
    switch (l.act) {
      case Act::Condition:
        world.book.set_condition(id, true, {});
        expected.acknowledged &= expected.present;  // a new one is unacknowledged
        expected.present = true;
        break;
      case Act::NoCondition:
        world.book.set_condition(id, false, {});
        expected.present = false;
        break;
      case Act::Raise:
        world.book.raise_once(id, {});
        expected.acknowledged = false;
        break;
      case Act::Acknowledge:
        answered = world.book.acknowledge(id, {}) == !expected.acknowledged;
        expected.acknowledged = true;
        break;
      case Act::Restore:
        world.book.restore(id, l.restored, {});
        expected = {l.restored < AlarmState::ReturnedUnacknowledged,
                    l.restored == AlarmState::Acknowledged || l.restored == AlarmState::Normal,
                    l.restored};
        break;
      case Act::TakeChanges:
        break;
    }
    if (!answered)
      return "acknowledged what was not to be acknowledged, or not what was";
    const std::string violated = apart_ ? "" : take_changes(world);
    return violated.empty() ? judge(world) : violated;
  }

  [[nodiscard]] std::string key(const AlarmWorld& world) const {
    std::string key;
    for (std::size_t alarm = 0; alarm < alarms_; ++alarm) {
      put(key, static_cast<int>(world.book.state(static_cast<AlarmId>(alarm))));
      put(key, static_cast<int>(world.expected[alarm].state()));
      put(key, static_cast<int>(world.expected[alarm].reported));
    }
    return key;
  }

  // Once no condition is present any more a person's acknowledgement makes it normal.
  [[nodiscard]] std::optional<std::size_t> well(const AlarmWorld& world) const {
    for (std::size_t letter = 0; letter < alphabet_.size(); ++letter) {
      const AlarmLetter& l = alphabet_[letter];
      const Expected& expected = world.expected[l.alarm];
      if ((l.act == Act::NoCondition && expected.present) ||
          (l.act == Act::Acknowledge && !expected.acknowledged))
        return letter;
    }
    return std::nullopt;
  }

 private:
  static std::string take_changes(AlarmWorld& world) {
    std::size_t changed = 0;
    for (Expected& expected : world.expected) {
      changed += expected.reported != expected.state() ? 1U : 0U;
      expected.reported = expected.state();
    }
    const std::vector<Alarm> changes = world.book.take_changes();
    for (const Alarm& alarm : changes)
      if (alarm.state != world.expected[static_cast<std::size_t>(alarm.id)].state())
        return "reports a state that it is not in";
    return changes.size() == changed ? "" : "does not report what changed, and only that, once";
  }

  static std::string judge(const AlarmWorld& world) {
    std::size_t standing = 0;
    for (std::size_t alarm = 0; alarm < together; ++alarm) {
      const AlarmState state = world.expected[alarm].state();
      if (world.book.state(static_cast<AlarmId>(alarm)) != state)
        return "alarm " + std::to_string(alarm) + " is not as the table says";
      standing += state != AlarmState::Normal ? 1U : 0U;
    }
    return world.book.standing().size() == standing ? "" : "does not list what stands";
  }

  std::size_t alarms_;
  bool apart_;
  std::vector<AlarmLetter> alphabet_;
};

TEST(AlarmExploration, OneAlarmIsAlwaysAsTheTableSaysAndReportedOnce) {
  const AlarmSystem system(1, true);
  const Exploration exploration(system);
  exploration.print("one alarm");
  EXPECT_EQ(exploration.violation(), "");
  EXPECT_EQ(exploration.states(), 16U);
}

TEST(AlarmExploration, NoAlarmTouchesAnother) {
  const AlarmSystem system(together, false);
  const Exploration exploration(system);
  exploration.print("alarms together");
  EXPECT_EQ(exploration.violation(), "");
  EXPECT_EQ(exploration.states(), 1U << (2 * together));
}

}  // namespace
}  // namespace brinegate::explore
