// SPDX-License-Identifier: Apache-2.0
// A small campaign of fixed seeds holds what large ones measured. The margins are those of the
// binomial law at these numbers (three standard deviations), so that only a change of the
// computation can fail them, not the choice of seeds.
#include "sim/campaign.h"

#include <algorithm>
#include <cmath>

#include <gtest/gtest.h>

namespace brinegate::sim {
namespace {

CampaignSummary campaign(BatchKind kind, ErrorLaw errors, std::uint64_t first,
                         std::uint64_t batches) {
  CampaignPlan plan;
  plan.kind = kind;
  plan.errors = errors;
  plan.first_seed = first;
  plan.batches = batches;
  return summarize(plan, run_campaign(plan, {}));
}

double three_deviations(double probability, double n) {
  return 3.0 * std::sqrt(probability * (1.0 - probability) / n);
}

void expect_never_off_target(const CampaignSummary& summary) {
  for (const std::uint64_t seed : summary.permitted_off_target)
    ADD_FAILURE() << "seed " << seed << ": the pump might run on water out of tolerance";
}

TEST(Campaign, ProvesGoodBatchesSoonAndNoBadOnes) {
  const CampaignSummary s = campaign(BatchKind::Anything, ErrorLaw::Within, 700'001, 150);
  expect_never_off_target(s);
  for (const std::uint64_t seed : s.never_proven)
    ADD_FAILURE() << "seed " << seed << " was good and never proven";
  ASSERT_GT(s.proven, 40U) << "a campaign that proves nothing shows nothing";
  const auto proven = static_cast<double>(s.proven);
  // Five in a hundred is what 95 % confidence allows.
  EXPECT_LE(static_cast<double>(s.early.size()) / proven, 0.05 + three_deviations(0.05, proven));
  EXPECT_LE(quantile(s.ratios, 0.5), 1.25);
  EXPECT_LE(quantile(s.ratios, 0.95), 2.2);
}

TEST(Campaign, TheForecastsIntervalsHoldWhatTheySay) {
  const CampaignSummary s = campaign(BatchKind::Anything, ErrorLaw::Normal, 710'001, 150);
  for (const GlanceSummary& glance : s.glances) {
    const auto n = static_cast<double>(glance.batches);
    ASSERT_GT(n, 80.0);
    EXPECT_NEAR(glance.coverage, 0.9, 0.03 + three_deviations(0.9, n)) << glance.share;
  }
  EXPECT_LT(s.glances[2].median_error_psu, 0.15);
}

TEST(Campaign, TheStatedRiskIsTheShareOfBadBatches) {
  const CampaignSummary s = campaign(BatchKind::Anything, ErrorLaw::Normal, 720'001, 150);
  double expected = 0.0;
  double bad = 0.0;
  for (const RiskBand& band : s.reliability) {
    expected += band.stated;
    bad += static_cast<double>(band.bad);
  }
  ASSERT_GT(expected, 20.0);
  EXPECT_NEAR(bad, expected, 3.0 * std::sqrt(expected));
}

TEST(Campaign, ALyingCellOfTwoProvesNothing) {
  const CampaignSummary s = campaign(BatchKind::OneLyingCell, ErrorLaw::Within, 730'001, 60);
  expect_never_off_target(s);
}

TEST(Campaign, OneAdvisedCorrectionIsEnough) {
  for (const BatchKind kind : {BatchKind::UnderSalted, BatchKind::OverSalted}) {
    const CampaignSummary s = campaign(kind, ErrorLaw::Within, 740'001, 25);
    expect_never_off_target(s);
    EXPECT_GE(s.corrected, 24U);
    EXPECT_GE(s.proven_after_correction, s.corrected - 1);
  }
}

TEST(Campaign, FindsTheSameHoweverManyThreads) {
  CampaignPlan plan;
  plan.batches = 12;
  plan.threads = 1;
  const auto one = run_campaign(plan, {});
  plan.threads = 3;
  const auto three = run_campaign(plan, {});
  for (std::size_t i = 0; i < one.size(); ++i) {
    EXPECT_EQ(one[i].seed, three[i].seed);
    EXPECT_EQ(one[i].proven, three[i].proven);
    EXPECT_EQ(one[i].stated_risk, three[i].stated_risk);
  }
}

}  // namespace
}  // namespace brinegate::sim
