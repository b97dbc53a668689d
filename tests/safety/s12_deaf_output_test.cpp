// SPDX-License-Identifier: Apache-2.0
// S12, the decision's part: an output that does not answer blocks the station that needs it. That a
// late or foreign answer is never taken for the present one is shown with the drivers.
#include <gtest/gtest.h>

#include "tests/safety/bench_engine.h"

namespace brinegate::daemon {
namespace {

TEST(S12, AnOutputThatStopsAnsweringShutsTheGate) {
  BenchEngine bench;
  ASSERT_TRUE(bench.begin_change());
  bench.output_answers = false;
  bench.pass(bench.lease());
  EXPECT_FALSE(bench.pump_on());
  EXPECT_FALSE(bench.ask_change("10 L"));
}

TEST(S12, AnOutputThatNeverAnsweredKeepsTheGateShut) {
  BenchEngine bench;
  bench.output_answers = false;
  bench.prove();
  EXPECT_FALSE(bench.ask_change("10 L"));
}

TEST(S12, AnOutputOfWhichNothingIsHeardAnyMoreIsNotTakenToAnswer) {
  BenchEngine bench;
  bench.prove();
  ASSERT_EQ(bench.check("pump-follows").at("verdict"), "met");
  bench.output_reports = false;
  bench.pass(1min);
  EXPECT_NE(bench.check("pump-follows").at("verdict"), "met");
}

TEST(S12, AReportOfWhatAnOutputWasToldBeforeIsNoAnswerToWhatItIsToldNow) {
  BenchEngine bench;
  bench.prove();
  const auto pump = bench.drives(drivers::OutputRole::Pump).back().effect.output;
  bench.output_reports = false;
  ASSERT_TRUE(bench.ask_change("50 L"));
  bench.pass(2s);
  ASSERT_TRUE(bench.pump_on());
  for (Duration passed{0}; passed < bench.lease() + 2s; passed += bench.turn()) {
    bench.send(OutputReported{{pump, /*on=*/false, SampleFault::None}});
    bench.pass(bench.turn());
  }
  EXPECT_FALSE(bench.pump_on()) << "off answers were of before";
}

}  // namespace
}  // namespace brinegate::daemon
