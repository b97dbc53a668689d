// SPDX-License-Identifier: Apache-2.0
// Batches in virtual time, judged by the daemon's very Station, with the simulator's truth as the
// oracle: whatever chance brings, water that is not right is never released, and water that is
// right is released in time. A failure names its seed, which repeats it.
#include "sim/virtual_batch.h"

#include <algorithm>
#include <cmath>
#include <cstdint>

#include <gtest/gtest.h>

namespace brinegate::sim {
namespace {

using namespace std::chrono_literals;

double minutes(Duration duration) {
  return seconds(duration) / 60.0;
}

void expect_only_true_proofs(const VirtualBatchOutcome& outcome, std::uint64_t seed) {
  if (outcome.false_proof)
    ADD_FAILURE() << "seed " << seed << ": released after " << minutes(outcome.false_proof->at)
                  << " min, but " << outcome.false_proof->what;
}

// From the plan alone: when the slow part has dissolved to what the profile leaves and the heater
// has done its work, and then the circulation, the window and their margins.
Duration enough_time(const VirtualBatchPlan& plan) {
  const SaltAddition& salt = plan.salt.back();
  const double slow_at_first = salt.slow_share * plan.profile.target.value();
  const double left_over = plan.profile.still_to_dissolve.value();
  const double times = std::log(std::max(1.0, slow_at_first / left_over));
  const Duration dissolved = plan.salt_at + from_seconds(times * seconds(salt.slow_time));
  const double cold = (plan.set_point - plan.cold).value();
  const double near_enough = 0.25;  // K to the set point, which lies at least 0.5 K in the band
  const Duration warm = from_seconds(seconds(plan.reservoir.heater_time) *
                                     std::log(std::max(1.0, std::abs(cold) / near_enough)));
  return std::max(dissolved, warm) + plan.profile.circulate + 30min;
}

class VirtualBatches : public testing::TestWithParam<std::uint64_t> {
 public:
  static constexpr std::uint64_t block = 30;
};

TEST_P(VirtualBatches, NothingIsReleasedThatIsNotRight) {
  VirtualBatchRules rules;
  rules.longest = 8h;
  rules.watch_proof = 1h;
  rules.watch_rejection = 1h;
  int proven = 0;
  for (std::uint64_t seed = GetParam(); seed < GetParam() + block; ++seed) {
    const auto outcome = run(draw_plan(seed, BatchKind::Anything), rules);
    expect_only_true_proofs(outcome, seed);
    proven += outcome.proven ? 1 : 0;
  }
  EXPECT_GT(proven, 0) << "a campaign without a proof shows nothing";
}
INSTANTIATE_TEST_SUITE_P(Seeds, VirtualBatches, testing::Range<std::uint64_t>(1, 151, 30));

TEST(VirtualBatch, GoodOnesAreProvenInTime) {
  VirtualBatchRules rules;
  rules.watch_proof = 30min;
  int late = 0;
  constexpr int batches = 40;
  for (std::uint64_t seed = 1; seed <= batches; ++seed) {
    const VirtualBatchPlan plan = draw_plan(seed, BatchKind::Good);
    const auto outcome = run(plan, rules);
    expect_only_true_proofs(outcome, seed);
    if (!outcome.proven)
      ADD_FAILURE() << "seed " << seed << " was never proven: " << outcome.last_reason;
    else if (*outcome.proven > enough_time(plan))
      ++late;
  }
  EXPECT_LE(late, batches / 20);
}

void expect_correction_to_help(BatchKind kind) {
  VirtualBatchRules rules;
  rules.watch_proof = 30min;
  rules.follow_advice = true;
  int helped = 0;
  constexpr int batches = 30;
  for (std::uint64_t seed = 1; seed <= batches; ++seed) {
    const auto outcome = run(draw_plan(seed, kind), rules);
    EXPECT_FALSE(outcome.proven) << "seed " << seed << " was proven as it was mixed";
    EXPECT_TRUE(outcome.rejected) << "seed " << seed << " was not refused: " << outcome.last_reason;
    expect_only_true_proofs(outcome, seed);
    helped += outcome.proven_after_correction ? 1 : 0;
  }
  EXPECT_GE(helped, batches * 95 / 100);
}

TEST(VirtualBatch, AWeakOneIsRejectedAndProvenOnceCorrectedAsAdvised) {
  expect_correction_to_help(BatchKind::UnderSalted);
}

TEST(VirtualBatch, AStrongOneIsRejectedAndProvenOnceCorrectedAsAdvised) {
  expect_correction_to_help(BatchKind::OverSalted);
}

TEST(VirtualBatch, TheSameSeedRepeatsTheSameCourse) {
  VirtualBatch once(draw_plan(7, BatchKind::Anything));
  VirtualBatch again(draw_plan(7, BatchKind::Anything));
  for (int i = 0; i < 2000; ++i) {
    once.step();
    again.step();
    ASSERT_EQ(once.station().salinity().value, again.station().salinity().value) << "step " << i;
  }
  EXPECT_EQ(once.reservoir().salinity(), again.reservoir().salinity());
}

}  // namespace
}  // namespace brinegate::sim
