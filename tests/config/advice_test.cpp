// SPDX-License-Identifier: Apache-2.0
// Everything that can be decided has words: a missing sentence is an error of ours, not a blank.
#include "config/advice.h"

#include <set>
#include <string>

#include <gtest/gtest.h>

#include "config/words.h"
#include "rules/check_catalogue.h"
#include "tests/safety/bench_station.h"

namespace brinegate::config {
namespace {

TEST(Words, EveryEnumeratorHasOneOfItsOwn) {
  const auto distinct = [](auto last) {
    using Enum = decltype(last);
    std::set<std::string_view> seen;
    for (int i = 0; i <= static_cast<int>(last); ++i) {
      const std::string_view text = word(static_cast<Enum>(i));
      EXPECT_FALSE(text.empty()) << i;
      EXPECT_TRUE(seen.insert(text).second) << text;
    }
  };
  distinct(Quality::Good);
  distinct(QualityReason::None);
  distinct(SampleFault::ProcessEnded);
  distinct(Verdict::Met);
  distinct(BatchPhase::Drawing);
  distinct(GateState::Open);
  distinct(ChangeEnd::VolumeReached);
  distinct(ProofVoid::Recalibrated);
  distinct(BatchEnd::Used);
  distinct(AlarmId::RecordFailing);
  distinct(AlarmState::Normal);
  distinct(CorrectionAction::ReplaceWithWater);
}

TEST(Words, FindBackWhatTheyName) {
  EXPECT_EQ(alarm_of(word(AlarmId::RunLimitPassed)), AlarmId::RunLimitPassed);
  EXPECT_EQ(phase_of(word(BatchPhase::Rejected)), BatchPhase::Rejected);
  EXPECT_EQ(alarm_of("no-such-alarm"), std::nullopt);
}

TEST(Advice, EveryCheckHasASentenceForEveryVerdictWithAndWithoutNumbers) {
  BenchStation bench;
  bench.pass(10s);
  for (const CheckRow& row : check_catalogue()) {
    for (const Verdict verdict :
         {Verdict::Violated, Verdict::Waiting, Verdict::NotAsked, Verdict::Met}) {
      CheckResult bare;
      bare.id = row.id;
      bare.verdict = verdict;
      EXPECT_FALSE(sentence(bare, bench.station()).empty()) << row.name;
      CheckResult full = bare;
      full.measured = 1.0;
      full.needed_low = 2.0;
      full.needed_high = 3.0;
      full.risk = 0.5;
      full.time_left = 90s;
      full.troubles.push_back({0, QualityReason::Spike, SampleFault::None});
      EXPECT_FALSE(sentence(full, bench.station()).empty()) << row.name;
    }
  }
}

TEST(Advice, EveryAnswerAndEveryAlarmHasWords) {
  for (int code = 0; code <= static_cast<int>(AnswerCode::Done); ++code) {
    CommandAnswer answer;
    answer.code = static_cast<AnswerCode>(code);
    EXPECT_FALSE(sentence(answer).empty()) << code;
  }
  for (std::size_t i = 0; i < alarm_count; ++i) {
    const AlarmWords words = words_of(static_cast<AlarmId>(i));
    EXPECT_FALSE(words.cause.empty() || words.consequence.empty() || words.action.empty()) << i;
  }
}

TEST(Advice, TheHeadlineOfAWeakBatchSaysHowMuchSaltToAdd) {
  BenchStation bench;
  bench.salinity_psu = 33.0;
  bench.prove();
  bench.pass(30min);
  ASSERT_EQ(bench.phase(), BatchPhase::Rejected);
  const std::string head = headline(bench.station(), bench.now().mono);
  EXPECT_NE(head.find("Too weak"), std::string::npos) << head;
  EXPECT_NE(head.find("of salt to come to 35.00 ppt"), std::string::npos) << head;
  const auto ways = corrections_for(bench.station());
  ASSERT_FALSE(ways.empty());
  EXPECT_EQ(ways.front().action, CorrectionAction::AddSalt);
}

TEST(Advice, TheHeadlineOfAnOpenGateSaysHowFarTheChangeIs) {
  BenchStation bench;
  bench.prove();
  bench.pass(30min);
  ASSERT_TRUE(bench.ask_change(40.0).ok());
  bench.pass(30s);
  const std::string head = headline(bench.station(), bench.now().mono);
  EXPECT_EQ(head.rfind("Open:", 0), 0U) << head;
  EXPECT_NE(head.find("of 40.0 L drawn"), std::string::npos) << head;
}

}  // namespace
}  // namespace brinegate::config
