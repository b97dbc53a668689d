// SPDX-License-Identifier: Apache-2.0
// Everything that can be decided has words: a missing sentence is an error of ours, not a blank.
#include "config/advice.h"

#include <set>
#include <string>

#include <fmt/format.h>
#include <gtest/gtest.h>

#include "config/words.h"
#include "rules/check_catalogue.h"
#include "rules/seawater.h"
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
  distinct(ProofVoid::ProbeEdited);
  distinct(BatchEnd::Used);
  distinct(AlarmId::FlowsBackAfterStop);
  distinct(AlarmPriority::Highest);
  distinct(ExchangePhase::AfterReturn);
  distinct(AlarmState::Normal);
  distinct(CorrectionAction::ReplaceWithWater);
  distinct(DoseSuspect::Probe);
  distinct(Widening::WiderTolerance);
  distinct(HealthWitness::OtherCell);
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
  EXPECT_NE(head.find("of salt: lands at 35.0 ± "), std::string::npos) << head;
  const auto ways = corrections_for(bench.station());
  ASSERT_FALSE(ways.empty());
  EXPECT_EQ(ways.front().action, CorrectionAction::AddSalt);
}

// A bench that begins with fresh water, 180 L by its level, and whose salt was noted.
void salt_noted(BenchStation& bench, double grams) {
  const double right = bench.salinity_psu;
  bench.salinity_psu = 0.05;
  bench.pass(30s);
  bench.begin_batch();
  bench.salinity_psu = right;
  NoteCommand note;
  note.salt = Grams(grams);
  bench.ask(note);
  bench.pass(45min);
}
const double right_grams =
    180.0 * salt_grams_per_litre(PracticalSalinity(34.836), Celsius(25.0)) / 0.93;

TEST(Advice, ADoseThatIsDisputedNamesWhatWouldHaveToBeWrongMostPlausibleFirst) {
  BenchStation bench;
  salt_noted(bench, 0.85 * right_grams);
  ASSERT_EQ(bench.phase(), BatchPhase::Rejected);
  const std::string head = headline(bench.station(), bench.now().mono);
  EXPECT_NE(head.find("Not as dosed: weighed in it must be 29.9"), std::string::npos) << head;
  EXPECT_NE(head.find("measured is 35.00 ppt"), std::string::npos) << head;
  // 15 % short: 27 of 180 L, 5.1 ppt, 1.03 of 5.85 kg; the yield would have to be above 1.
  const auto level = head.find(". Most likely the level reads 26.7 L too much,");
  const auto probe = head.find(" or the cells read 5.09 ppt too much,");
  const auto weight = head.find(" or 1.030 kg more salt was weighed in than noted.");
  EXPECT_LT(level, probe) << head;
  EXPECT_LT(probe, weight) << head;
  EXPECT_NE(weight, std::string::npos) << head;
  const auto rejections = bench.events<BatchRejected>();
  ASSERT_EQ(rejections.size(), 1U);
  ASSERT_EQ(rejections[0].violated.size(), 1U);
  EXPECT_EQ(rejections[0].violated[0].explanations.size(), 3U);
}

TEST(Advice, EverySuspectHasWordsForTooMuchAndTooLittle) {
  std::set<std::string> seen;
  for (int suspect = 0; suspect <= static_cast<int>(DoseSuspect::Probe); ++suspect)
    for (const double amount : {-0.1, 0.1})
      for (const bool by_level : {false, true})
        seen.insert(explanation_text({static_cast<DoseSuspect>(suspect), amount, amount / 0.8, 2.0},
                                     by_level));
  EXPECT_EQ(seen.size(), 10U) << "of the volume two ways each";
}

TEST(Advice, ACorrectionSaysHowSureItLands) {
  BenchStation bench;
  bench.salinity_psu = 33.0;
  salt_noted(bench, right_grams * 33.0 / 34.836);
  ASSERT_EQ(bench.phase(), BatchPhase::Rejected);
  const Correction way = corrections_for(bench.station()).front();
  // The cell's own uncertainty and the salt's factor remain: 0.5 % and 1 %/sqrt(3) of 33 PSU.
  EXPECT_NEAR(way.standard_uncertainty.value(), 0.26, 0.05);
  const double half = 1.96 * way.standard_uncertainty.value() * 35.16504 / 35.0;
  EXPECT_NE(sentence(way).find(fmt::format("lands at 35.0 ± {:.1f} ppt in ", half)),
            std::string::npos)
      << sentence(way);
}

// While salt still dissolves, whoever forecasts where it ends asks for what to do then.
TEST(Advice, CorrectsTowardsTheTargetFromWhereTheBatchWillCome) {
  BenchStation bench;
  bench.salinity_psu = 20.0;
  salt_noted(bench, right_grams);
  const Uncertain<PracticalSalinity> coming{PracticalSalinity(32.5), PracticalSalinity(0.4)};
  const auto ways = corrections_for(bench.station(), coming);
  ASSERT_FALSE(ways.empty());
  EXPECT_TRUE(ways.front().fits);
  const Batch& batch = bench.station().batch();
  for (const Correction& way : ways) {
    const Water left{*bench.station().volume() - way.remove, coming.value};
    const Water after = mixed(left, way.water, way.salt, batch.product, Celsius(25.0));
    EXPECT_NEAR(after.salinity.value(), batch.profile.target.value(), 1e-6);
    EXPECT_GT(way.standard_uncertainty.value(), 0.36) << "not surer than the forecast";
  }
}

// The station knows its volume only from what was noted.
TEST(Advice, CorrectsByTheNotedLitresWhereThereIsNoLevel) {
  StationSpec spec = bench_spec();
  spec.probes[BenchStation::height].measures = Measures::Flow;
  BenchStation bench(spec);
  bench.shown.erase(BenchStation::height);
  bench.salinity_psu = 33.0;
  bench.begin_batch();
  NoteCommand note;
  note.water = Litres(150.0);
  note.salt = Grams(5000.0);
  bench.ask(note);
  const auto ways =
      corrections_for(bench.station(), {PracticalSalinity(33.0), PracticalSalinity(0.2)});
  ASSERT_FALSE(ways.empty());
  EXPECT_GT(ways.front().after.volume.value(), 150.0);
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
