// SPDX-License-Identifier: Apache-2.0
// The health of cells as a person reads it.
#include <sstream>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "daemon/command_health_text.h"
#include "daemon/command_status_text.h"
#include "daemon/command_text.h"
#include "tests/cli/run_cli.h"

namespace brinegate::daemon {
namespace {

using testing::HasSubstr;
using testing::Not;
using Json = nlohmann::ordered_json;

Json health() {
  return Json::parse(R"({
    "days_since_calibration": 37.5, "comparisons": 2, "deviation_percent": 0.31,
    "deviation_uncertainty_percent": 0.52, "drift_percent_per_day": 0.004,
    "drift_uncertainty_percent_per_day": 0.009, "drifts": false, "limit_percent": 1.43,
    "calibrate_by": "2026-12-01T10:00:00Z", "due": false,
    "sentence": "No drift of cell_a is to be seen; calibrate it within 41 d.",
    "calibrated": "2026-09-20T10:00:00Z",
    "points": [
      {"at": "2026-09-20T10:00:00Z", "witness": "standard", "batch": "", "deviation_percent": -1.4,
       "uncertainty_percent": 0.2},
      {"at": "2026-10-01T10:00:00Z", "witness": "other cell", "batch": "mixer-1",
       "deviation_percent": 0.7, "uncertainty_percent": 0.0}]})");
}

TEST(ProbeHealthText, SaysWhenToCalibrateAndPlotsEveryComparison) {
  const std::string text = probe_health_text("cell_a", health());
  EXPECT_EQ(text.rfind("cell_a: No drift of cell_a is to be seen", 0), 0U) << text;
  EXPECT_THAT(text, HasSubstr("+0.31 % ± 0.52 %"));
  EXPECT_THAT(text, HasSubstr("2026-12-01"));
  EXPECT_THAT(text, HasSubstr("-1.4 %"));
  // Columns of -1.43 to +1.43 %, twelve on either side: -1.4 is the first, 0.7 half way.
  EXPECT_THAT(text, HasSubstr("|*-"));
  EXPECT_THAT(text, HasSubstr("|            :     *      |"));
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);)
    EXPECT_LE(line.size(), terminal_columns + 3) << line;  // "±" is two bytes
}

TEST(ProbeHealthText, SaysHowComparisonsCome) {
  Json none = health();
  none["points"] = Json::array();
  none["calibrated"] = nullptr;
  none["calibrate_by"] = nullptr;
  const std::string text = probe_health_text("cell_a", none);
  EXPECT_THAT(text, HasSubstr("No comparisons yet"));
  EXPECT_THAT(text, HasSubstr("never here"));
  EXPECT_THAT(text, HasSubstr("not within two years"));
}

TEST(StationText, HasALineForACalibrationThatIsDueOnly) {
  Json station{
      {"station", "mixer"}, {"headline", "Shut."}, {"probe_health", {{"cell_a", health()}}}};
  EXPECT_THAT(station_text(station), Not(HasSubstr("Calibration due")));
  station["probe_health"]["cell_a"]["due"] = true;
  station["probe_health"]["cell_a"]["sentence"] = "Calibrate cell_a: it may be off.";
  EXPECT_THAT(station_text(station), HasSubstr("Calibration due\n  Calibrate cell_a"));
}

TEST(ProbeHealthCommand, SaysThatNoDaemonIsThereToAsk) {
  EXPECT_EQ(run_cli({"probe", "health"}).status, ExitStatus::Usage);
  EXPECT_EQ(run_cli({"probe", "health", "mixer", "--config", "no-such-file.toml"}).status,
            ExitStatus::Usage);
}

TEST(BatchBegin, ReadsTheFactorOfALotAndRefusesNonsense) {
  const Said word = run_cli({"batch", "begin", "mixer", "--lot", "H-2291", "--salt-factor", "much",
                             "--salt-factor-uncertainty", "0.3 %"});
  EXPECT_EQ(word.status, ExitStatus::Usage);
  EXPECT_THAT(word.err, HasSubstr("salt-factor"));
  const Said alone =
      run_cli({"batch", "begin", "mixer", "--lot", "H-2291", "--salt-factor", "1.004"});
  EXPECT_EQ(alone.status, ExitStatus::Usage);
  EXPECT_THAT(alone.err, HasSubstr("go together"));
}

}  // namespace
}  // namespace brinegate::daemon
