// SPDX-License-Identifier: Apache-2.0
// An alarm stays until its condition is gone and a person has acknowledged it, in either order
// (the states of ISA-18.2 / IEC 62682).
#include "rules/alarm.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace brinegate {
namespace {

using namespace std::chrono_literals;
using testing::IsEmpty;
using testing::SizeIs;

constexpr AlarmId alarm = AlarmId::LevelFallingWhileShut;
constexpr MonoTime t{1h};

TEST(AlarmBook, StaysUntilGoneAndAcknowledgedInEitherOrder) {
  AlarmBook gone_first;
  gone_first.set_condition(alarm, true, t);
  EXPECT_EQ(gone_first.state(alarm), AlarmState::Unacknowledged);
  gone_first.set_condition(alarm, false, t);
  EXPECT_EQ(gone_first.state(alarm), AlarmState::ReturnedUnacknowledged);
  EXPECT_TRUE(gone_first.acknowledge(alarm, t));
  EXPECT_TRUE(gone_first.is_normal(alarm));

  AlarmBook acknowledged_first;
  acknowledged_first.set_condition(alarm, true, t);
  EXPECT_TRUE(acknowledged_first.acknowledge(alarm, t));
  EXPECT_EQ(acknowledged_first.state(alarm), AlarmState::Acknowledged);
  EXPECT_FALSE(acknowledged_first.is_normal(alarm)) << "what is still there still blocks";
  acknowledged_first.set_condition(alarm, false, t);
  EXPECT_TRUE(acknowledged_first.is_normal(alarm));
}

TEST(AlarmBook, MustBeAcknowledgedAgainWhenItComesBack) {
  AlarmBook book;
  book.set_condition(alarm, true, t);
  book.acknowledge(alarm, t);
  book.set_condition(alarm, true, t);
  EXPECT_EQ(book.state(alarm), AlarmState::Acknowledged);
  book.set_condition(alarm, false, t);
  book.set_condition(alarm, true, t);
  EXPECT_EQ(book.state(alarm), AlarmState::Unacknowledged);
}

TEST(AlarmBook, CannotBeAcknowledgedInAdvance) {
  AlarmBook book;
  EXPECT_FALSE(book.acknowledge(alarm, t));
  book.set_condition(alarm, true, t);
  EXPECT_EQ(book.state(alarm), AlarmState::Unacknowledged);
}

TEST(AlarmBook, KeepsWhatHasOnlyHappened) {
  AlarmBook book;
  book.raise_once(alarm, t);
  EXPECT_EQ(book.state(alarm), AlarmState::ReturnedUnacknowledged);
  EXPECT_THAT(book.standing(), SizeIs(1));
  EXPECT_TRUE(book.acknowledge(alarm, t));
  EXPECT_THAT(book.standing(), IsEmpty());
}

TEST(AlarmBook, TellsEachChangeOnce) {
  AlarmBook book;
  EXPECT_THAT(book.take_changes(), IsEmpty());
  book.set_condition(alarm, true, t);
  EXPECT_THAT(book.take_changes(), SizeIs(1));
  book.set_condition(alarm, true, t + 1s);
  EXPECT_THAT(book.take_changes(), IsEmpty());
  EXPECT_EQ(book.standing().front().since, t);
}

TEST(AlarmBook, StaysWhatItWasOverARestartUntilTheConditionIsLookedAtAgain) {
  for (const AlarmState state :
       {AlarmState::Unacknowledged, AlarmState::Acknowledged, AlarmState::ReturnedUnacknowledged}) {
    AlarmBook book;
    book.restore(alarm, state, t);
    EXPECT_EQ(book.state(alarm), state);
    book.set_condition(alarm, false, t);
    EXPECT_EQ(book.is_normal(alarm), state == AlarmState::Acknowledged);
  }
}

}  // namespace
}  // namespace brinegate
