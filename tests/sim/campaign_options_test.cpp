// SPDX-License-Identifier: Apache-2.0
// The command line of `campaign`.
#include "sim/campaign_options.h"

#include <initializer_list>
#include <string>
#include <vector>

#include <gtest/gtest.h>

namespace brinegate::sim {
namespace {

Result<CampaignOptions> parse(std::initializer_list<std::string_view> words) {
  return parse_campaign_options(std::vector<std::string_view>(words));
}

std::string error(std::initializer_list<std::string_view> words) {
  const auto options = parse(words);
  return options.ok() ? std::string() : options.error().message;
}

TEST(CampaignOptions, RunsAThousandOfAnyKindUnlessToldOtherwise) {
  const auto options = parse({});
  ASSERT_TRUE(options.ok());
  EXPECT_EQ(options->plan.first_seed, 1u);
  EXPECT_EQ(options->plan.batches, 1000u);
  EXPECT_EQ(options->plan.kind, BatchKind::Anything);
  EXPECT_EQ(options->plan.errors, ErrorLaw::Within);
  EXPECT_FALSE(options->replay || options->json || options->html);
}

TEST(CampaignOptions, TakesEach) {
  const auto options =
      parse({"--seed", "18446744073709551000", "--batches", "40", "--kind", "weak", "--errors",
             "normal", "--threads", "3", "--json", "a", "--html", "b"});
  ASSERT_TRUE(options.ok());
  EXPECT_EQ(options->plan.first_seed, 18446744073709551000u);
  EXPECT_EQ(options->plan.batches, 40u);
  EXPECT_EQ(options->plan.kind, BatchKind::UnderSalted);
  EXPECT_EQ(options->plan.errors, ErrorLaw::Normal);
  EXPECT_EQ(options->plan.threads, 3u);
  EXPECT_EQ(options->json, "a");
  EXPECT_EQ(options->html, "b");
}

TEST(CampaignOptions, NamesWhatIsWrong) {
  EXPECT_NE(error({"--volume", "40 L"}).find("campaign has no option \"--volume\""),
            std::string::npos);
  EXPECT_NE(error({"--html"}).find("--html needs a value"), std::string::npos);
  EXPECT_NE(error({"--html", ""}).find("--html"), std::string::npos);
  EXPECT_NE(error({"--kind", "odd"}).find("only-cell-lying"), std::string::npos);
  EXPECT_NE(error({"--errors", "none"}).find("within, rectangular, normal"), std::string::npos);
  for (const auto* batches : {"0", "-1", "1.5", "many", "1e6", ""})
    EXPECT_NE(error({"--batches", batches}).find("--batches"), std::string::npos) << batches;
  EXPECT_NE(error({"--threads", "0"}).find("--threads"), std::string::npos);
  EXPECT_NE(error({"--seed", "18446744073709551615", "--batches", "2"}).find("--seed"),
            std::string::npos);
}

TEST(CampaignOptions, AReplayIsOfOneBatch) {
  EXPECT_EQ(parse({"--replay", "0", "--kind", "good", "--html", "a"})->replay, 0u);
  for (const auto* of_many : {"--seed", "--batches", "--threads", "--json"})
    EXPECT_NE(error({"--replay", "5", of_many, "1"}).find(of_many), std::string::npos) << of_many;
}

TEST(CampaignOptions, TheHelpNamesEveryKindAndOption) {
  const std::string help = campaign_help();
  for (const auto* word :
       {"within", "any", "good", "weak", "strong", "one-lying-cell", "only-cell-lying", "--seed",
        "--batches", "--errors", "--threads", "--json", "--replay"})
    EXPECT_NE(help.find(word), std::string::npos) << word;
}

TEST(CampaignOptions, TheReplayCommandIsUnderstood) {
  CampaignPlan plan;
  EXPECT_EQ(replay_command(17, plan), "brinegate-sim campaign --replay 17");
  plan.kind = BatchKind::OnlyCellLying;
  plan.errors = ErrorLaw::Normal;
  EXPECT_EQ(replay_command(17, plan),
            "brinegate-sim campaign --replay 17 --kind only-cell-lying --errors normal");
  const auto again =
      parse({"--replay", "17", "--kind", word(plan.kind), "--errors", word(plan.errors)});
  ASSERT_TRUE(again.ok());
  EXPECT_EQ(again->plan.kind, plan.kind);
  EXPECT_EQ(again->plan.errors, plan.errors);
}

}  // namespace
}  // namespace brinegate::sim
