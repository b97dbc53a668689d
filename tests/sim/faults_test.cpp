// SPDX-License-Identifier: Apache-2.0
// A small campaign of faults with fixed seeds, and worlds that are deliberately broken: a campaign
// that cannot fail shows nothing.
#include <algorithm>
#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <gtest/gtest.h>

#include "sim/faults/fault_campaign.h"
#include "sim/faults/fault_report.h"
#include "sim/faults/faults_command.h"
#include "sim/faults/life_plan.h"
#include "sim/faults/plant.h"
#include "sim/faults/station_life.h"

namespace brinegate::sim {
namespace {

using namespace std::chrono_literals;

// A life of a day and a recovery in which only these strike, each as a gate opens.
LifePlan short_life(std::uint64_t seed, const std::vector<FaultKind>& kinds) {
  LifePlan plan = draw_life(seed);
  plan.station.permit = PermitMode::PerChange;
  plan.station.has_level = true;
  plan.station.has_readback = true;
  plan.faults.clear();
  plan.faults_last = 26h;
  for (const FaultKind kind : kinds)
    plan.faults.push_back({kind, 1h, Strikes::GateOpens, 10s, 40min, 0.8});
  return plan;
}

Tally live(const LifePlan& plan, Defect defect = Defect::None) {
  return StationLife(plan, defect).run().tally;
}

bool is_violated(const Tally& tally, Invariant invariant) {
  return tally.violated[static_cast<std::size_t>(invariant)] > 0;
}

void expect_nothing_violated(const Tally& tally) {
  for (const Violation& violation : tally.violations)
    ADD_FAILURE() << "seed " << violation.seed << ": " << word(violation.invariant) << ": "
                  << violation.what;
}

TEST(Faults, ShortLivesViolateNothingAndRecover) {
  Tally tally;
  for (std::uint64_t seed = 1; seed <= 4; ++seed) {
    LifePlan plan = draw_life(seed);
    plan.station.permit = PermitMode::PerChange;
    plan.faults_last = 48h;
    for (PlannedFault& fault : plan.faults)  // of weeks, in two days
      fault.at = std::chrono::duration_cast<Duration>(fault.at % 40h);
    std::stable_sort(plan.faults.begin(), plan.faults.end(),
                     [](const auto& a, const auto& b) { return a.at < b.at; });
    tally.add(live(plan));
  }
  expect_nothing_violated(tally);
  EXPECT_EQ(tally.recovered, tally.lives);
  EXPECT_GT(tally.changes_completed, 0U);
}

TEST(Faults, TheNumberOfJobsChangesNothing) {
  FaultPlan plan;
  plan.years = 0.001;  // one life each
  plan.first_seed = 2;
  plan.jobs = 2;
  int told = 0;
  const FaultSummary two = run_fault_campaign(plan, [&told](const FaultSummary&) { ++told; });
  plan.jobs = 1;
  const FaultSummary one = run_fault_campaign(plan, {});
  EXPECT_EQ(one.tally.turns, two.tally.turns);
  EXPECT_EQ(one.tally.reached, two.tally.reached);
  EXPECT_EQ(told, 1);
}

// Of the marks that one kind of fault alone must leave.
TEST(Faults, EachFaultLeavesItsMark) {
  struct Case {
    FaultKind kind;
    std::vector<Mark> marks;
  };
  const std::vector<Case> cases{
      {FaultKind::Killed,
       {Mark::KilledWhileOpen, Mark::RestartDuringChange, Mark::LeaseLapsedAlone}},
      {FaultKind::Stopped, {Mark::StopDuringChange}},
      {FaultKind::Reloaded, {Mark::ReloadDuringChange}},
      {FaultKind::ReloadedEdited, {Mark::EditVoidedProof}},
      {FaultKind::DiskFull, {Mark::DiskFailedWhileOpen, Mark::RefusedEntriesWritten}},
      {FaultKind::DiskSilent, {Mark::DiskSilentWhileOpen}},
      {FaultKind::ClockBack, {Mark::ClockBackWhileOpen}},
      {FaultKind::Siphon, {Mark::SiphonSeen}},
      {FaultKind::PumpBlocked, {Mark::NoFlowEndedChange}},
      {FaultKind::Leak, {Mark::LeakShut}},
      {FaultKind::CellMissing, {Mark::ProbeLostWhileOpen}},
      {FaultKind::SecondMaster, {Mark::SecondMasterUndone}},
      {FaultKind::HostileRequests,
       {Mark::RetainedRequestRefused, Mark::HostileRequestRefused, Mark::NetworkActRefused}},
  };
  for (const Case& each : cases) {
    const Tally tally = live(short_life(11, {each.kind}));
    expect_nothing_violated(tally);
    for (const Mark mark : each.marks)
      EXPECT_GT(tally.reached[static_cast<std::size_t>(mark)], 0U)
          << word(each.kind) << ": " << word(mark);
  }
}

TEST(Faults, APumpThatIsUnpluggedIsSeenToBeWithoutPower) {
  LifePlan plan = short_life(11, {FaultKind::PumpBlocked});
  plan.faults.front().size = 0.2;
  const Tally tally = live(plan);
  expect_nothing_violated(tally);
  EXPECT_GT(tally.reached[static_cast<std::size_t>(Mark::PumpNotRunningSeen)], 0U);
}

// The daemon's lease runs, its link is gone, and somebody else turns the same coil on for good.
TEST(Faults, AForeignHandOverARunningLeaseIsNotTheDaemons) {
  double foreign_s = 0.0;
  for (std::uint64_t seed = 11; seed <= 14; ++seed) {
    LifePlan plan = short_life(seed, {FaultKind::SecondMaster, FaultKind::LinkSilent});
    for (PlannedFault& fault : plan.faults)
      fault.size = 0.4;
    const Tally tally = live(plan);
    expect_nothing_violated(tally);
    foreign_s += tally.unavoidable.second_master_s;
  }
  EXPECT_GT(foreign_s, 0.0);
}

// A disk that is full has the daemon say "not on record" of a calibration by which it goes.
TEST(Faults, ACellThatMayHaveBeenCalibratedWronglyIsNotHonest) {
  StationTraits station = draw_life(3).station;
  station.cells = 1;
  Plant plant(station, 3);
  plant.calibrated(0, 0.97, false);
  EXPECT_FALSE(plant.some_cell_is_honest());
  plant.calibrated(0, 1.0, false);
  EXPECT_FALSE(plant.some_cell_is_honest());
  plant.dip(0, MilliSiemensPerCm(53.07));
  for (int i = 0; i < 20; ++i)  // until the cell shows the standard
    plant.step(1min, MonoTime(1h), {});
  plant.calibrated(0, 1.0, true);
  plant.dip(0, std::nullopt);
  EXPECT_TRUE(plant.some_cell_is_honest());
}

TEST(Faults, ASeedRepeatsItsLife) {
  const LifePlan plan = short_life(7, {FaultKind::LinkLoses, FaultKind::BrokerReorders});
  const auto first = StationLife(plan, Defect::None, true).run();
  const auto again = StationLife(plan, Defect::None, true).run();
  EXPECT_EQ(first.story, again.story);
  EXPECT_FALSE(first.story.empty());
}

TEST(Faults, APumpThatIgnoresItsLeaseIsFound) {
  const Tally tally = live(short_life(22, {FaultKind::Killed}), Defect::PumpIgnoresLease);
  EXPECT_TRUE(is_violated(tally, Invariant::Lease));
}

TEST(Faults, ADiskThatLiesIsFound) {
  const Tally tally = live(short_life(21, {FaultKind::Killed}), Defect::DiskLies);
  EXPECT_TRUE(is_violated(tally, Invariant::RecordFound));
  EXPECT_TRUE(is_violated(tally, Invariant::PermitOnDisk));
}

TEST(Faults, AnEffectThatIsDroppedIsFound) {
  const Tally tally = live(short_life(21, {}), Defect::OnIsDropped);
  EXPECT_TRUE(is_violated(tally, Invariant::Recovers));
}

TEST(Faults, ALyingCellThatIsCalledHonestIsFound) {
  Tally tally;
  for (std::uint64_t seed = 30; seed < 32; ++seed) {
    LifePlan plan = short_life(seed, {FaultKind::CellStuck, FaultKind::TopOff});
    plan.station.cells = 1;
    plan.station.has_flow = false;
    plan.station.pump_flow = LitresPerMinute(0.02 * plan.station.capacity.value());
    plan.station.reservoir.pump_flow = plan.station.pump_flow;
    for (PlannedFault& fault : plan.faults) {
      fault.after = 0s;
      fault.size = 0.1;  // less comes in than is drawn, so that the level falls
    }
    tally.add(live(plan, Defect::HonestCellLies));
  }
  EXPECT_TRUE(is_violated(tally, Invariant::GoodWater));
}

TEST(Faults, RequestsWhoseIdsAreLostOnTheWayAreFoundToActTwice) {
  Tally sound;
  Tally defect;
  for (const std::uint64_t seed : {21U, 22U}) {
    LifePlan plan = short_life(seed, {});
    plan.faults.push_back({FaultKind::RepeatedRequests, 0h, Strikes::AtItsTime, 0s, 24h, 0.5});
    sound.add(live(plan));
    defect.add(live(plan, Defect::IdsAreLost));
  }
  expect_nothing_violated(sound);
  EXPECT_TRUE(is_violated(defect, Invariant::ActsOnce));
}

TEST(Faults, TheReportNamesSeedAndStoryOfAViolation) {
  FaultSummary summary;
  summary.tally = live(short_life(22, {FaultKind::Killed}), Defect::PumpIgnoresLease);
  summary.tally.violations.front().seed = 4711;
  const std::string table = fault_table(summary);
  EXPECT_NE(table.find("--replay 4711"), std::string::npos);
  EXPECT_NE(table.find("killed while open"), std::string::npos);
  const auto json = fault_json(summary);
  EXPECT_FALSE(json.at("clean").get<bool>());
  EXPECT_EQ(json.at("violations").at(0).at("seed"), 4711);
}

TEST(Faults, ACampaignThatNeverReachedAMarkIsNotClean) {
  FaultSummary summary;
  EXPECT_FALSE(summary.is_clean());
  summary.tally.reached.fill(1);
  EXPECT_TRUE(summary.is_clean());
}

TEST(FaultsOptions, AReplayTakesNothingElse) {
  const std::vector<std::string_view> mixed{"--replay", "3", "--years", "2"};
  EXPECT_FALSE(parse_faults_options(mixed).ok());
  const std::vector<std::string_view> alone{"--replay", "3"};
  EXPECT_EQ(*parse_faults_options(alone)->replay, 3U);
  const std::vector<std::string_view> wrong{"--years", "none"};
  EXPECT_NE(parse_faults_options(wrong).error().message.find("--years"), std::string::npos);
}

}  // namespace
}  // namespace brinegate::sim
