// SPDX-License-Identifier: Apache-2.0
// What stands on the sheet of a batch. Every number is invented.
#include "daemon/batch_sheet.h"

#include <cmath>

#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/balanced_xml.h"

namespace brinegate::daemon {
namespace {

using namespace std::chrono_literals;
using testing::HasSubstr;
using testing::Not;

const WallTime begun{std::chrono::hours(24 * 20000)};

RecordRow row(std::int64_t sequence, Duration after, const char* kind, const char* body) {
  return {sequence,
          {begun + after, "mixer", kind, body},
          std::string(64, static_cast<char>('a' + sequence))};
}

BatchSheet sheet() {
  const char* batch =
      R"({"id":"mixer-1","lot":"H-2291","phase":"drawing","begun":"2024-10-04T00:00:00Z",
    "lots":[{"lot":"H-2291","version":2,"share":0.6},{"lot":"H-2304","version":0,"share":0.4}],
    "salt_noted":true,"salt_g":5640.0,"dry_fraction":0.93,"rest_l":12.5,"drawn_l":40.2,
    "profile":{"name":"reef","target_psu":34.836,"tolerance_psu":0.995}})";
  BatchSheet sheet{"cellar", {"batch", "mixer-1", "mixer", batch}, {}, {}, {}, Json::object()};
  sheet.entries = {
      row(1, 0s, "batch-begun", R"({"id":"mixer-1"})"),
      row(2, 1h, "noted",
          R"({"batch":"mixer-1","salt_g":86.0,"water_l":0.0,"removed_l":0.0,
        "text":"<b>late</b>"})"),
      row(3, 2h, "waived",
          R"({"check":"temperature","by":"Ada","length_s":7200.0,"reason":"in summer"})"),
      row(4, 3h, "proven", R"({"id":"mixer-1","says":"salinity proven, composition by assay",
        "expected":{"Ca":"421 mg/L"},"proof":{"salinity_psu":34.9,"standard_uncertainty_psu":0.1,
        "risk":0.002,"temperature_c":26.4},"checks":[
        {"title":"Salinity","verdict":"met","needed":"34 ppt to 36 ppt","measured":"35.1 ppt",
         "waived":null},
        {"title":"Temperature","verdict":"violated","needed":"24 °C to 26 °C","measured":"26.4 °C",
         "waived":{"by":"Ada","reason":"in summer"}},
        {"id":"batch-proven","title":"Proof","verdict":"waiting","needed":"","measured":"",
         "waived":null},
        {"title":"Lot","verdict":"not asked","needed":"","measured":"","waived":null}]})"),
      row(5, 4h, "change-ended",
          R"({"batch":"mixer-1","permit":"mixer-1-p1","asked_l":40.0,"drawn_l":40.2,
        "end":"volume reached"})")};
  sheet.calibrations = {row(0, -48h, "calibration", R"({"probe":"cell_a"})")};
  for (int minute = 0; minute < 240; ++minute)
    sheet.salinity.push_back(
        {begun + minute * 1min, 34.9 * (1.0 - std::exp(-minute / 40.0)), {}, {}, Quality::Good});
  return sheet;
}

TEST(BatchSheet, TellsTheBatchItsProofWhatWasWaivedAndWhatWasDrawn) {
  const std::string html = batch_sheet_html(sheet());
  EXPECT_TRUE(is_balanced_xml(html));
  for (const char* part :
       {"Batch mixer-1", "cellar, mixer",
        "H-2291, analysis 2 (60 %); H-2304, no analysis on record (40 %)", "35.06 ± 0.20 ppt",
        "tolerance 0.2 %", "reef: 35.00 ± 1.00 ppt", "0.2 %", "composition by assay", "5640 g",
        "waived by Ada: in summer", "86 g salt", "temperature waived by Ada for 2.0 h",
        "mixer-1-p1", "40.2 L", "volume reached", "Ca 421 mg/L", "cell_a 2024-10-02", "<svg"})
    EXPECT_THAT(html, HasSubstr(part));
  EXPECT_THAT(html, Not(HasSubstr("<td>Lot</td><td></td>")));  // not asked for
  EXPECT_THAT(html, Not(HasSubstr("waiting")));                // its own proof
}

TEST(BatchSheet, TellsWhatMovesMostInTheTankOrWhyThatIsNotKnown) {
  BatchSheet known = sheet();
  known.effect = {{"sentence", "40.2 L of it went into the 800 L of reef:"},
                  {"analytes", Json::array()}};
  for (int i = 0; i < 9; ++i)
    known.effect["analytes"].push_back({{"name", fmt::format("Element {}", i)},
                                        {"tank", {{"shown", "392 mg/L"}}},
                                        {"after", {{"shown", "394 mg/L"}, {"interval", "388-400"}}},
                                        {"moved", 0.2},
                                        {"wanted", {{"shown", "400-450"}}}});
  const std::string html = batch_sheet_html(known);
  EXPECT_TRUE(is_balanced_xml(html));
  for (const char* part : {"What it should do to the tank", "40.2 L of it went", "392 mg/L",
                           "394 mg/L", "388-400", "400-450", "Element 5"})
    EXPECT_THAT(html, HasSubstr(part));
  EXPECT_THAT(html, Not(HasSubstr("Element 6")));  // one page

  known.effect = {{"sentence", "Tank reef is not on record."}, {"analytes", Json::array()}};
  EXPECT_THAT(batch_sheet_html(known), HasSubstr("Tank reef is not on record."));
}

TEST(BatchSheet, NamesTheHashOfTheLastEntryItWasMadeFrom) {
  EXPECT_THAT(batch_sheet_html(sheet()),
              HasSubstr("brinegate record verify --contains " + std::string(64, 'f')));
}

TEST(BatchSheet, ShowsWhatAPersonWroteAsText) {
  EXPECT_THAT(batch_sheet_html(sheet()), Not(HasSubstr("<b>late")));
}

TEST(BatchSheet, SaysThatABatchWasNeverProvenAndDrawsNoCourseWithoutReadings) {
  BatchSheet unproven = sheet();
  unproven.entries = {row(1, 0s, "batch-begun", R"({"id":"mixer-1"})")};
  unproven.salinity.clear();
  unproven.calibrations.clear();
  const std::string html = batch_sheet_html(unproven);
  EXPECT_TRUE(is_balanced_xml(html));
  EXPECT_THAT(html, HasSubstr("Never proven"));
  EXPECT_THAT(html, HasSubstr("never on record"));
  EXPECT_THAT(html, Not(HasSubstr("<svg")));
}

TEST(BatchSheet, HoldsEvenWhereWhatWasStoredIsDamaged) {
  BatchSheet damaged = sheet();
  damaged.batch.body = "{";
  for (RecordRow& each : damaged.entries)
    each.entry.body = "[]";
  EXPECT_TRUE(is_balanced_xml(batch_sheet_html(damaged)));
}

}  // namespace
}  // namespace brinegate::daemon
