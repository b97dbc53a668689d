// SPDX-License-Identifier: Apache-2.0
// What was asked and what is seen are two things (S5, S14, S20).
#include "rules/pump_supervision.h"

#include <gtest/gtest.h>

namespace brinegate {
namespace {

using namespace std::chrono_literals;

class Supervising : public testing::Test {
 protected:
  // One step a second.
  void pass(Duration time, PumpEvidence evidence, double litres_per_hour = 0.0) {
    for (const MonoTime end = now + time; now < end;) {
      now += 1s;
      litres += litres_per_hour / 3600.0;
      evidence.volume = Litres(litres);
      evidence.watch_level = watch_level;
      supervision.step(pump, evidence, now);
    }
  }

  static constexpr PumpEvidence shut_and_off{false, false, {}, false};
  static constexpr PumpEvidence shut_and_running{false, true, {}, false};
  static constexpr PumpEvidence shut_and_unseen{false, {}, {}, false};
  static constexpr PumpEvidence open_and_running{true, true, {}, false};
  static constexpr PumpEvidence open_and_off{true, false, {}, false};

  PumpSpec pump;
  PumpSupervision supervision;
  MonoTime now{1h};
  double litres = 200.0;
  bool watch_level = true;
};

TEST_F(Supervising, SeesAPumpThatRunsWhileShutWithinItsTime) {
  pass(10s, shut_and_off);
  pass(pump.readback_within, shut_and_running);
  EXPECT_FALSE(supervision.running_while_shut());
  pass(1s, shut_and_running);
  EXPECT_TRUE(supervision.running_while_shut());
  EXPECT_FALSE(supervision.not_running_while_open());
  pass(1s, shut_and_off);
  EXPECT_FALSE(supervision.running_while_shut());
}

TEST_F(Supervising, GivesAContactTimeToFollow) {
  pass(1min, open_and_running);
  pass(4s, shut_and_running);
  pass(1min, shut_and_off);
  EXPECT_FALSE(supervision.running_while_shut());
}

TEST_F(Supervising, SeesAPumpThatDoesNotRunWhileOpen) {
  pass(pump.readback_within + 1s, open_and_off);
  EXPECT_TRUE(supervision.not_running_while_open());
}

TEST_F(Supervising, LetsThePumpStandStillWhereItStartsAndStopsByItself) {
  pump.permit = PermitMode::WhileProven;
  pass(1h, open_and_off);
  EXPECT_FALSE(supervision.not_running_while_open());
  pass(pump.readback_within + 1s, shut_and_running);
  EXPECT_TRUE(supervision.running_while_shut());
}

TEST_F(Supervising, IsNotCalmedByAReadBackThatIsLostForAMoment) {
  pass(3s, shut_and_running);
  pass(1s, shut_and_unseen);
  pass(3s, shut_and_running);
  EXPECT_TRUE(supervision.running_while_shut());
}

TEST_F(Supervising, SeesASiphon) {
  pass(1min, shut_and_off);
  pass(10min, shut_and_off, -30.0);
  EXPECT_TRUE(supervision.falling_while_shut());
}

TEST_F(Supervising, LetsWaterEvaporate) {
  pass(1min, shut_and_off);
  pass(48h, shut_and_off, -0.2);  // 5 L a day
  EXPECT_FALSE(supervision.falling_while_shut());
}

TEST_F(Supervising, WatchesTheLevelOnlyWhileShutAndAskedTo) {
  pass(1min, open_and_running);
  pass(10min, open_and_running, -600.0);
  EXPECT_FALSE(supervision.falling_while_shut());
  watch_level = false;
  pass(10min, shut_and_off, -60.0);
  EXPECT_FALSE(supervision.falling_while_shut());
}

TEST_F(Supervising, ForgetsALevelThatWasChangedOnPurpose) {
  pass(1min, shut_and_off);
  litres -= 10.0;
  supervision.level_changed_on_purpose();
  pass(1min, shut_and_off);
  EXPECT_FALSE(supervision.falling_while_shut());
  litres -= 10.0;
  pass(1min, shut_and_off);
  EXPECT_TRUE(supervision.falling_while_shut());
}

}  // namespace
}  // namespace brinegate
