// SPDX-License-Identifier: Apache-2.0
// A run ends at its volume, its time, the low level or lost flow, whichever is first (S6).
#include "rules/water_change.h"

#include <gtest/gtest.h>

namespace brinegate {
namespace {

using namespace std::chrono_literals;

class Running : public testing::Test {
 protected:
  Running() {
    station.capacity = Litres(250.0);
    station.low_level = Litres(20.0);
    station.pump.emplace();
    station.pump->max_volume = Litres(60.0);
    station.pump->max_run = 30min;
  }

  // Runs at this flow until a limit, one step a second.
  ChangeEnd run(Litres asked, double litres_per_minute) {
    const MonoTime start = now;
    PumpRun pump_run(evidence(litres_per_minute), now);
    for (;;) {
      now += 1s;
      litres -= litres_per_minute / 60.0;
      pump_run.step(evidence(litres_per_minute), now);
      drawn = pump_run.drawn();
      took = now - start;
      if (const auto end = limit_of(pump_run, station, asked, now))
        return *end;
      if (took > 24h) {
        ADD_FAILURE() << "the run never ends";
        return ChangeEnd::Interrupted;
      }
    }
  }
  [[nodiscard]] FlowEvidence evidence(double litres_per_minute) const {
    FlowEvidence seen;
    if (has_level)
      seen.volume = Litres(litres);
    if (has_flow)
      seen.flow = LitresPerMinute(litres_per_minute);
    return seen;
  }

  StationSpec station;
  double litres = 200.0;
  bool has_level = true;
  bool has_flow = false;
  MonoTime now{1h};
  Litres drawn;
  Duration took{0};
};

TEST_F(Running, EndsAtItsVolumeByTheLevel) {
  EXPECT_EQ(run(Litres(40.0), 10.0), ChangeEnd::VolumeReached);
  EXPECT_NEAR(200.0 - litres, 40.0, 0.5);
}

TEST_F(Running, EndsAtItsVolumeByTheFlow) {
  has_level = false;
  has_flow = true;
  EXPECT_EQ(run(Litres(40.0), 10.0), ChangeEnd::VolumeReached);
  EXPECT_NEAR(200.0 - litres, 40.0, 0.5);
}

TEST_F(Running, NeverDrawsMoreThanTheStationAllows) {
  EXPECT_EQ(run(Litres(1000.0), 10.0), ChangeEnd::VolumeReached);
  EXPECT_NEAR(200.0 - litres, 60.0, 0.5);
}

TEST_F(Running, EndsAtItsTimeWhateverTheLevelSays) {
  EXPECT_EQ(run(Litres(60.0), 1.0), ChangeEnd::TimeLimit);
  EXPECT_EQ(took, 30min);
}

TEST_F(Running, EndsAtTheLowLevel) {
  litres = 30.0;
  EXPECT_EQ(run(Litres(40.0), 10.0), ChangeEnd::ReservoirLow);
  EXPECT_NEAR(litres, 20.0, 0.5);
}

TEST_F(Running, EndsWhenNoWaterMoves) {
  EXPECT_EQ(run(Litres(40.0), 0.0), ChangeEnd::NoFlow);
  EXPECT_EQ(took, station.pump->no_flow_after);
  has_flow = true;
  EXPECT_EQ(run(Litres(40.0), 0.0), ChangeEnd::NoFlow);
}

TEST_F(Running, EndsWhereNothingShowsThatWaterMoves) {
  has_level = false;
  EXPECT_EQ(run(Litres(40.0), 10.0), ChangeEnd::NoFlow);
}

TEST_F(Running, CountsTheLargerOfLevelAndFlow) {
  has_flow = true;
  PumpRun pump_run(evidence(10.0), now);
  now += 60s;
  pump_run.step(evidence(10.0), now);  // 10 L have flowed, the level has not moved
  EXPECT_NEAR(pump_run.drawn().value(), 10.0, 1e-9);
  litres -= 20.0;
  for (int i = 0; i < 20; ++i)
    pump_run.step(evidence(0.0), now);
  EXPECT_NEAR(pump_run.drawn().value(), 20.0, 0.01);
}

TEST_F(Running, IsNotRunBackwardsByAProbeThatReadsBackwards) {
  has_flow = true;
  PumpRun pump_run(evidence(0.0), now);
  litres += 5.0;
  now += 60s;
  pump_run.step(evidence(-10.0), now);
  EXPECT_EQ(pump_run.drawn(), Litres(0.0));
}

}  // namespace
}  // namespace brinegate
