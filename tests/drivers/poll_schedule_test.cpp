// SPDX-License-Identifier: Apache-2.0
#include "drivers/poll_schedule.h"

#include <map>

#include <gtest/gtest.h>

namespace brinegate::drivers {
namespace {

using namespace std::chrono_literals;

constexpr MonoTime start{std::chrono::hours(1)};

TEST(PollSchedule, ReadsEachSourceAtItsOwnPeriod) {
  PollSchedule schedule({{1s, 1}, {3s, 2}}, 1s, 4s);
  std::map<std::size_t, int> reads;
  for (MonoTime now = start; now < start + 30s; now += 100ms) {
    while (const auto turn = schedule.take(now)) {
      ++reads[turn->source];
    }
  }
  EXPECT_EQ(reads[0], 30);
  EXPECT_EQ(reads[1], 10);
}

TEST(PollSchedule, DoesNotCatchUpOnTurnsMissedWhileTheLineWasBlocked) {
  PollSchedule schedule({{1s, 1}}, 1s, 4s);
  ASSERT_TRUE(schedule.take(start));
  ASSERT_TRUE(schedule.take(start + 60s));
  EXPECT_FALSE(schedule.take(start + 60s));
  EXPECT_EQ(schedule.due(), start + 61s);
}

TEST(PollSchedule, TakesTheSourceThatWaitedLongest) {
  PollSchedule schedule({{1s, 1}, {5s, 1}}, 1s, 4s);
  ASSERT_TRUE(schedule.take(start));
  ASSERT_TRUE(schedule.take(start));
  const auto turn = schedule.take(start + 20s);
  ASSERT_TRUE(turn);
  EXPECT_EQ(turn->source, 0U);
}

TEST(PollSchedule, LeavesAFailingUnitAloneLongerEachTimeAndTellsItsFault) {
  PollSchedule schedule({{100ms, 7}}, 1s, 4s);
  MonoTime now = start;
  for (const Duration rest : {1s, 2s, 4s, 4s}) {
    const auto asked = schedule.take(now);
    ASSERT_TRUE(asked);
    ASSERT_EQ(asked->resting, SampleFault::None);
    schedule.unit_failed(7, SampleFault::Timeout, now);
    const auto told = schedule.take(now + rest - 1ms);
    ASSERT_TRUE(told);
    EXPECT_EQ(told->resting, SampleFault::Timeout);
    now += rest + 200ms;
  }
}

TEST(PollSchedule, AnsweringEndsTheRestOfItsUnitOnly) {
  PollSchedule schedule({{1s, 1}, {1s, 2}}, 10s, 10s);
  schedule.unit_failed(1, SampleFault::Timeout, start);
  schedule.unit_failed(2, SampleFault::BadAnswer, start);
  schedule.unit_answered(1);
  EXPECT_EQ(schedule.take(start)->resting, SampleFault::None);
  EXPECT_EQ(schedule.take(start)->resting, SampleFault::BadAnswer);
}

TEST(PollSchedule, OfNothingIsNeverDue) {
  PollSchedule schedule({}, 1s, 4s);
  EXPECT_FALSE(schedule.take(start));
  EXPECT_EQ(schedule.due(), MonoTime::max());
}

}  // namespace
}  // namespace brinegate::drivers
