// SPDX-License-Identifier: Apache-2.0
#include "drivers/output_intent.h"

#include <vector>

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

namespace brinegate::drivers {
namespace {

using namespace std::chrono_literals;
using Action = OutputIntent::Action;

constexpr MonoTime start{std::chrono::hours(1)};

TEST(OutputIntent, BeginsByWantingOffUntilItIsConfirmed) {
  OutputIntent intent{OutputTiming{}};
  const auto step = intent.next(start);
  EXPECT_EQ(step.action, Action::SwitchOff);
  EXPECT_FALSE(intent.confirmed_off());
  intent.done(step, true, start);
  EXPECT_TRUE(intent.confirmed_off());
}

TEST(OutputIntent, NeverGivesUpOnOff) {
  OutputIntent intent{OutputTiming{}};
  MonoTime now = start;
  for (int i = 0; i < 1000; ++i) {
    const auto step = intent.next(now);
    ASSERT_EQ(step.action, Action::SwitchOff);
    intent.done(step, false, now);
    ASSERT_LE(intent.due() - now, OutputTiming{}.longest_retry);
    now = intent.due();
  }
}

TEST(OutputIntent, LooksAtAConfirmedOffAgain) {
  OutputIntent intent{OutputTiming{}};
  intent.done(intent.next(start), true, start);
  EXPECT_EQ(intent.next(start).action, Action::None);
  EXPECT_EQ(intent.next(start + 1s).action, Action::RestateOff);
}

TEST(OutputIntent, DropsAnOnWhoseEndHasCome) {
  OutputIntent intent{OutputTiming{}};
  intent.want(start + 5s, start);
  EXPECT_EQ(intent.next(start + 5s).action, Action::Drop);
  EXPECT_EQ(intent.next(start + 5s).action, Action::SwitchOff);
}

TEST(OutputIntent, SwitchesOffAtTheEndOfAnOnThatWasNotRenewed) {
  OutputIntent intent{OutputTiming{}};
  intent.want(start + 5s, start);
  const auto on = intent.next(start);
  ASSERT_EQ(on.action, Action::SwitchOn);
  intent.done(on, true, start);
  EXPECT_EQ(intent.next(start + 4999ms).action, Action::None);
  EXPECT_EQ(intent.due(), start + 5s);
  EXPECT_EQ(intent.next(start + 5s).action, Action::SwitchOff);
}

TEST(OutputIntent, TheLatestStatementWinsOverAStepUnderWay) {
  OutputIntent intent{OutputTiming{}};
  intent.want(start + 5s, start);
  const auto on = intent.next(start);
  intent.want(std::nullopt, start + 1s);
  intent.done(on, true, start + 1s);
  EXPECT_FALSE(intent.confirmed_off());
  EXPECT_EQ(intent.next(start + 1s).action, Action::SwitchOff);
}

TEST(OutputIntent, SaysEverythingAgainWhenTheDeviceWasOutOfReach) {
  OutputIntent intent{OutputTiming{}};
  intent.done(intent.next(start), true, start);
  intent.doubt(start);
  EXPECT_EQ(intent.next(start).action, Action::SwitchOff);
}

// Whatever is said, answered and lost: an "on" is only ever sent before its end.
RC_GTEST_PROP(OutputIntent, NeverSwitchesOnAtOrAfterTheEnd, (const std::vector<int>& course)) {
  OutputIntent intent{OutputTiming{}};
  MonoTime now = start;
  std::optional<MonoTime> wanted;
  for (const int turn : course) {
    const auto kind = static_cast<unsigned>(turn) % 5;
    now += std::chrono::milliseconds(static_cast<unsigned>(turn) % 997);
    if (kind == 0) {
      wanted = now + std::chrono::milliseconds(static_cast<unsigned>(turn) % 3001);
      intent.want(wanted, now);
    } else if (kind == 1) {
      wanted.reset();
      intent.want(wanted, now);
    } else if (kind == 2) {
      intent.doubt(now);
    }
    const auto step = intent.next(now);
    if (step.action == Action::SwitchOn) {
      RC_ASSERT(wanted.has_value() && now < *wanted && step.on_until == *wanted);
    }
    if (step.action != Action::None && step.action != Action::Drop) {
      intent.done(step, kind == 3, now);
    }
  }
}

}  // namespace
}  // namespace brinegate::drivers
