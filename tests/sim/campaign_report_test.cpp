// SPDX-License-Identifier: Apache-2.0
// What a campaign's finding looks like, from one made by hand.
#include "sim/campaign_report.h"

#include <sstream>
#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/balanced_xml.h"

namespace brinegate::sim {
namespace {

using testing::HasSubstr;
using testing::Not;

CampaignSummary made_by_hand() {
  CampaignSummary summary;
  summary.plan.first_seed = 11;
  summary.plan.batches = 100;
  summary.plan.kind = BatchKind::Good;
  summary.batches = 100;
  summary.proven = 90;
  summary.rightly_unproven = 5;
  summary.in_guard_band = 4;
  summary.never_proven = {17};
  summary.early = {20, 21, 22};
  summary.early_with_clump = 2;
  for (int i = 0; i < 90; ++i)
    summary.ratios.push_back(0.95 + 0.01 * i);
  summary.reliability = {
      {0.0, 0.001, 60, 0.02, 0}, {0.001, 0.01, 0, 0.0, 0}, {0.5, 1.0 + 1e-9, 30, 20.0, 22}};
  summary.glances = {GlanceSummary{0.25, 80, 0.2, 1.0, 0.91}, GlanceSummary{0.5, 80, 0.1, 0.5, 0.9},
                     GlanceSummary{0.75, 80, 0.05, 0.2, 0.85}};
  summary.station_seconds = 3e6;
  summary.cpu_seconds = 2.0;
  return summary;
}

std::string line_with(const std::string& table, const std::string& what) {
  std::istringstream lines(table);
  for (std::string line; std::getline(lines, line);)
    if (line.find(what) != std::string::npos)
      return line;
  return "";
}

TEST(CampaignTable, FitsATerminal) {
  CampaignSummary summary = made_by_hand();
  summary.plan.kind = BatchKind::OnlyCellLying;
  summary.plan.errors = ErrorLaw::Normal;
  summary.plan.first_seed = ~std::uint64_t{0} - 200;
  summary.never_proven = {summary.plan.first_seed};
  std::istringstream lines(campaign_table(summary));
  for (std::string line; std::getline(lines, line);) {
    const bool names_seeds = line.find("seed") != std::string::npos || line.starts_with("    br");
    EXPECT_TRUE(names_seeds || line.size() <= 80) << line;
  }
}

TEST(CampaignTable, GivesTheCommandThatRepeatsWhatWentWrong) {
  CampaignSummary summary = made_by_hand();
  summary.permitted_off_target = {42};
  const std::string table = campaign_table(summary);
  EXPECT_THAT(table, HasSubstr("brinegate-sim campaign --replay 17 --kind good\n"));
  EXPECT_THAT(table, HasSubstr("brinegate-sim campaign --replay 42 --kind good\n"));
  summary.never_proven.assign(200, 7);
  EXPECT_THAT(campaign_table(summary), HasSubstr("180 more"));
}

TEST(CampaignTable, CountsAndShares) {
  const std::string table = campaign_table(made_by_hand());
  EXPECT_THAT(line_with(table, "rightly unproven"), HasSubstr("5.0 %"));
  EXPECT_THAT(line_with(table, "proven early"), HasSubstr("3.3 %"));  // of 90
  EXPECT_THAT(table, HasSubstr("1.40        1.76        1.80"));
  EXPECT_THAT(line_with(table, "0.5 to 1"), HasSubstr("20.00"));
  EXPECT_EQ(line_with(table, "0.001 to 0.01"), "") << "a band without batches says nothing";
  EXPECT_THAT(line_with(table, "25 % of dissolving"), HasSubstr("0.201 ppt"));
  EXPECT_THAT(table, HasSubstr("1.50 million station-seconds a second of CPU"));
}

TEST(CampaignJson, HasTheShapeThatProgramsRead) {
  const auto json = campaign_json(made_by_hand());
  EXPECT_EQ(json["plan"]["kind"], "good");
  EXPECT_EQ(json["plan"]["first_seed"], 11);
  EXPECT_EQ(json["proven"], 90);
  EXPECT_EQ(json["never_proven"], nlohmann::ordered_json::array({17}));
  EXPECT_EQ(json["permitted_off_target"], nlohmann::ordered_json::array());
  EXPECT_EQ(json["early"].size(), 3u);
  EXPECT_EQ(json["ratio"]["batches"], 90);
  EXPECT_NEAR(json["ratio"]["median"], 1.40, 1e-9);
  EXPECT_EQ(json["reliability"].size(), 3u);
  EXPECT_EQ(json["reliability"][2]["observed_bad"], 22);
  EXPECT_EQ(json["reliability"][2]["expected_bad"], 20.0);
  EXPECT_EQ(json["forecast"][0]["error_95_psu"], 1.0);
  EXPECT_EQ(json["million_station_seconds_per_cpu_second"], 1.5);
}

TEST(CampaignReport, SaysSoWhereNothingWasProven) {
  const CampaignSummary nothing;
  EXPECT_TRUE(campaign_json(nothing)["ratio"].is_null());
  EXPECT_THAT(campaign_table(nothing), HasSubstr("no batch was proven"));
  EXPECT_TRUE(is_balanced_xml(campaign_html(nothing)));
}

TEST(CampaignReport, IsCleanUnlessABatchWentWrong) {
  CampaignSummary summary = made_by_hand();
  EXPECT_FALSE(is_clean(summary));
  summary.never_proven.clear();
  EXPECT_TRUE(is_clean(summary)) << "early is a number to watch, not a failure";
  summary.permitted_off_target = {1};
  EXPECT_FALSE(is_clean(summary));
}

TEST(CampaignHtml, IsOneWellFormedFileWithThreeFigures) {
  const std::string html = campaign_html(made_by_hand());
  EXPECT_TRUE(is_balanced_xml(html));
  std::size_t figures = 0;
  for (auto at = html.find("<figcaption>"); at != std::string::npos;
       at = html.find("<figcaption>", at + 1))
    ++figures;
  EXPECT_EQ(figures, 3u);
  EXPECT_THAT(html, HasSubstr("prefers-color-scheme: dark"));
  for (const auto* foreign : {"<script", "src=", "href=", "nan", "inf\""})
    EXPECT_THAT(html, Not(HasSubstr(foreign)));
}

// Brown, Cai, DasGupta 2001, Statist. Sci. 16:101, the Wilson interval; values by its formula for
// 0 of 10 and 5 of 10: 0 to 0.2775, 0.2366 to 0.7634.
TEST(BinomialInterval, IsWilsons) {
  EXPECT_EQ(binomial_interval_95(0, 10).first, 0.0);
  EXPECT_NEAR(binomial_interval_95(0, 10).second, 0.2775, 5e-5);
  EXPECT_NEAR(binomial_interval_95(5, 10).first, 0.2366, 5e-5);
  EXPECT_NEAR(binomial_interval_95(5, 10).second, 0.7634, 5e-5);
  EXPECT_EQ(binomial_interval_95(10, 10).second, 1.0);
}

}  // namespace
}  // namespace brinegate::sim
