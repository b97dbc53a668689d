// SPDX-License-Identifier: Apache-2.0
// The lots and tanks on record: what is stored of each entry, versions, and that a batch keeps what
// it was mixed of. All data are invented.
#include "daemon/engine/library.h"

#include <algorithm>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/safety/bench_engine.h"

namespace brinegate::daemon {
namespace {

using namespace std::chrono_literals;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::SizeIs;

constexpr WallTime spring{std::chrono::seconds(1'775'000'000)};  // 2026-03-31

Lot lot_with(double calcium_mg_kg, const std::string& name = "H-2291") {
  Lot lot;
  lot.name = name;
  lot.salt = "Harbour blend";
  lot.assay.salinity = PracticalSalinity(34.836);
  AssayValue value;
  value.content.low = value.content.high = calcium_mg_kg;
  value.line = 7;
  lot.assay.values[Analyte::Calcium] = value;
  return lot;
}

double calcium_of(const Lot& lot) {
  return lot.assay.values.at(Analyte::Calcium).content.low;
}

Tank reef() {
  Tank tank;
  tank.name = "reef";
  tank.volume = Litres(400.0);
  return tank;
}

WaterTest test_at(WallTime at) {
  WaterTest test;
  test.at = at;
  test.assay = lot_with(415.0).assay;
  test.by = "Ada";
  return test;
}

// What a daemon knows that is started on what was stored.
Library restored(const Append& append, bool backwards = false) {
  RestoredStates states = append.states;
  if (backwards)
    std::reverse(states.begin(), states.end());
  Library library;
  for (const StoredState& state : states) {
    EXPECT_TRUE(Library::keeps(state.table)) << state.table;
    const auto kept = library.restore(state);
    EXPECT_TRUE(kept.ok()) << state.key;
  }
  return library;
}

std::vector<std::string> kinds_of(const Append& append) {
  std::vector<std::string> kinds;
  for (const RecordEntry& entry : append.entries)
    kinds.push_back(entry.kind);
  return kinds;
}

TEST(Library, KeepsEveryVersionOfALotOverARestart) {
  Library library;
  Append append;
  ASSERT_EQ(library.add_lot(lot_with(421.0), {"Ada", spring}, append)->version, 1);
  ASSERT_EQ(library.add_lot(lot_with(380.0), {"Ben", spring + 24h}, append)->version, 2);
  EXPECT_THAT(kinds_of(append), ElementsAre("lot-added", "lot-added"));

  for (const bool backwards : {false, true}) {
    const Library after = restored(append, backwards);
    EXPECT_EQ(calcium_of(*after.lot("H-2291", 1)), 421.0);
    EXPECT_EQ(calcium_of(*after.lot("H-2291", 2)), 380.0);
    EXPECT_EQ(*after.lot("H-2291"), *after.lot("H-2291", 2)) << "the latest";
    EXPECT_EQ(after.lot("H-2291", 3), nullptr);
    EXPECT_EQ(after.lot("H-2291")->entered_by, "Ben");
    EXPECT_EQ(after.lot("H-2291")->entered, spring + 24h);
    EXPECT_THAT(after.lots(), SizeIs(1));
  }
}

TEST(Library, TakesTheSameLotOnceWhoeverEntersItAndWhereverItStoodInTheFile) {
  Library library;
  Append append;
  ASSERT_TRUE(library.add_lot(lot_with(421.0), {"Ada", spring}, append).ok());
  Lot again = lot_with(421.0);
  again.assay.values[Analyte::Calcium].line = 12;
  Append nothing;
  const auto refused = library.add_lot(again, {"Ben", spring + 24h}, nothing);
  ASSERT_FALSE(refused.ok());
  EXPECT_THAT(refused.error().message, HasSubstr("says the same (version 1)"));
  EXPECT_THAT(nothing.states, IsEmpty());
  EXPECT_THAT(nothing.entries, IsEmpty());
}

TEST(Library, GivesAnEarlierAnalysisANewVersionToo) {
  Library library;
  Append append;
  for (const double calcium : {421.0, 380.0, 421.0})
    ASSERT_TRUE(library.add_lot(lot_with(calcium), {"Ada", spring}, append).ok());
  EXPECT_EQ(library.lot("H-2291")->version, 3);
}

TEST(Library, KeepsTheTestsAndChangesOfATankWhoseParticularsChange) {
  Library library;
  Append append;
  ASSERT_TRUE(library.put_tank(reef(), {"Ada", spring}, append).ok());
  ASSERT_TRUE(library.add_test("reef", test_at(spring), spring, append).ok());
  ASSERT_TRUE(library
                  .add_change("reef", {spring + 24h, Litres(40.0), PracticalSalinity(34.8), {}, ""},
                              spring + 24h, append)
                  .ok());
  Tank larger = reef();
  larger.volume = Litres(450.0);
  ASSERT_TRUE(library.put_tank(larger, {"Ada", spring + 48h}, append).ok());
  EXPECT_FALSE(library.put_tank(larger, {"Ada", spring + 49h}, append).ok()) << "says the same";

  for (const bool backwards : {false, true}) {
    Append kept = append;
    kept.states.erase(kept.states.begin());  // the smaller tank, replaced under its key
    const Library after = restored(kept, backwards);
    ASSERT_NE(after.tank("reef"), nullptr);
    EXPECT_EQ(*after.tank("reef"), *library.tank("reef"));
    EXPECT_EQ(after.tank("reef")->volume, Litres(450.0));
    EXPECT_THAT(after.tank("reef")->tests, SizeIs(1));
    EXPECT_THAT(after.tank("reef")->changes, SizeIs(1));
  }
}

TEST(Library, KeepsTestsInTheOrderOfTheirTimeAndOneOfEachInstant) {
  Library library;
  Append append;
  ASSERT_TRUE(library.put_tank(reef(), {"Ada", spring}, append).ok());
  for (const Duration after : {Duration(48h), Duration(0h), Duration(24h)})
    ASSERT_TRUE(library.add_test("reef", test_at(spring + after), spring, append).ok());
  EXPECT_FALSE(library.add_test("reef", test_at(spring + 24h), spring, append).ok());
  const auto& tests = library.tank("reef")->tests;
  ASSERT_THAT(tests, SizeIs(3));
  EXPECT_LT(tests[0].at, tests[1].at);
  EXPECT_LT(tests[1].at, tests[2].at);
}

TEST(Library, StoresNothingForATankThatIsNotThere) {
  Library library;
  Append append;
  EXPECT_FALSE(library.add_test("reef", test_at(spring), spring, append).ok());
  EXPECT_FALSE(library
                   .add_change("reef", {spring, Litres(40.0), PracticalSalinity(34.8), {}, ""},
                               spring, append)
                   .ok());
  EXPECT_THAT(append.states, IsEmpty());
  EXPECT_THAT(append.entries, IsEmpty());
}

TEST(Library, NamesWhatCannotBeReadOfWhatWasStored) {
  Library library;
  Append append;
  ASSERT_TRUE(library.add_lot(lot_with(421.0), {"Ada", spring}, append).ok());
  for (const char* table : {"lot", "tank", "water-test", "tank-change"}) {
    const auto refused = Library().restore({table, "k", "", R"({"name":3})"});
    ASSERT_FALSE(refused.ok()) << table;
    EXPECT_THAT(refused.error().message, HasSubstr(std::string(table) + " k: "));
  }
}

constexpr const char* lot_text =
    R"({"do":"lot add","id":"l1","text":"Lot: H-2291\nSalinity: 35 ppt\nCa 421 mg/L","by":"Ada"})";
constexpr const char* edited_text =
    R"({"do":"lot add","id":"l2","text":"Lot: H-2291\nSalinity: 35 ppt\nCa 380 mg/L","by":"Ada"})";

TEST(LibraryOfTheEngine, ABatchKeepsTheVersionItWasMixedOfOverARestart) {
  BenchEngine bench;
  bench.salinity_psu = 0.1;  // fresh water, of which there is nothing to know
  bench.pass(30s);
  ASSERT_TRUE(bench.request(lot_text)["ok"]);
  ASSERT_TRUE(bench.request(R"({"station":"mixer","do":"begin","lot":"H-2291"})")["ok"]);
  bench.salinity_psu = 34.836;
  bench.pass(45min);
  ASSERT_EQ(bench.station()["batch"]["expected"]["Ca"], "421 mg/L");
  ASSERT_TRUE(bench.request(edited_text)["ok"]);
  bench.pass(1min);
  EXPECT_EQ(bench.station()["batch"]["lots"][0]["version"], 1);

  BenchEngine after(bench.stored(), bench.now());
  after.pass(5s);
  EXPECT_EQ(after.station()["batch"]["lots"][0]["version"], 1);
  EXPECT_EQ(after.station()["batch"]["expected"]["Ca"], "421 mg/L");
  const auto latest = after.request(R"({"do":"lot show","lot":"H-2291"})");
  EXPECT_EQ(latest["version"], 2) << latest;
}

TEST(LibraryOfTheEngine, ARepeatedIdAddsALotOnceAndWaitsForTheSameWrite) {
  BenchEngine bench;
  bench.pass(5s);
  bench.disk_answers = false;
  EXPECT_TRUE(bench.request(lot_text).is_null());
  EXPECT_TRUE(bench.request(lot_text).is_null()) << "not on disk yet, whoever asks";
  EXPECT_TRUE(bench.on_disk("lot-added").empty());

  BenchEngine sound;
  sound.pass(5s);
  const auto first = sound.request(lot_text);
  ASSERT_TRUE(first["ok"]);
  EXPECT_EQ(sound.request(lot_text), first);
  EXPECT_EQ(sound.on_disk("lot-added").size(), 1U);
}

}  // namespace
}  // namespace brinegate::daemon
