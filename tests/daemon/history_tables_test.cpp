// SPDX-License-Identifier: Apache-2.0
// Checked against sums done here by hand, not against the product's own.
#include "daemon/history_tables.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "daemon/store_tables.h"
#include "tests/temporary_folder.h"

namespace brinegate::daemon {
namespace {

using namespace std::chrono_literals;
using testing::ElementsAre;

const WallTime midnight{std::chrono::hours(24 * 20000)};

class History : public testing::Test {
 protected:
  void write(const std::vector<ReadingRow>& rows) {
    const auto done = writer_.append({1, rows});
    ASSERT_TRUE(done.ok()) << done.error().message;
  }
  std::vector<HistoryRow> read(WallTime from, WallTime to, Duration every) {
    const auto rows = query_history(folder_.path(), {"mixer", "cell_a", from, to, every});
    EXPECT_TRUE(rows.ok() && rows->has_value());
    return **rows;
  }

  TemporaryFolder folder_;
  Result<RecordWriter> record_ = RecordWriter::open(folder_.path());
  HistoryWriter writer_ =
      HistoryWriter::open(folder_.path(), {.readings = 24h, .minutes = 48h}).value();
};

ReadingRow reading(WallTime at, std::optional<double> value, Quality quality = Quality::Good) {
  return {"mixer", "cell_a", at, quality, value};
}

TEST_F(History, SaysOfEachMinuteAndHourTheMeanOfWhatWasNotBadAndItsExtremes) {
  write(
      {reading(midnight + 1s, 50.0), reading(midnight + 30s, 53.0), reading(midnight + 70s, 56.0)});
  write({reading(midnight + 45s, 90.0, Quality::Bad), reading(midnight + 3600s, 40.0)});

  const auto minutes = read(midnight, midnight + 2h, 1min);
  ASSERT_EQ(minutes.size(), 3u);
  EXPECT_EQ(minutes[0].at, midnight);
  EXPECT_DOUBLE_EQ(*minutes[0].value, 51.5);
  EXPECT_EQ(minutes[0].low, 50.0);
  EXPECT_EQ(minutes[0].high, 53.0);
  EXPECT_EQ(minutes[0].quality, Quality::Bad);
  EXPECT_EQ(minutes[1].quality, Quality::Good);

  const auto hours = read(midnight, midnight + 2h, 1h);
  ASSERT_EQ(hours.size(), 2u);
  EXPECT_DOUBLE_EQ(*hours[0].value, 53.0);
  EXPECT_EQ(hours[0].high, 56.0);
  EXPECT_EQ(hours[1].value, 40.0);
}

TEST_F(History, JoinsSummariesIntoLongerIntervalsByTheirNumberOfReadings) {
  write({reading(midnight, 10.0), reading(midnight + 1s, 10.0), reading(midnight + 2s, 10.0),
         reading(midnight + 1h, 50.0)});
  const auto rows = read(midnight, midnight + 24h, 24h);
  ASSERT_EQ(rows.size(), 1u);
  EXPECT_DOUBLE_EQ(*rows[0].value, 20.0);  // and not 30, the mean of the two hours' means
  EXPECT_EQ(rows[0].low, 10.0);
  EXPECT_EQ(rows[0].high, 50.0);
}

TEST_F(History, HasNoValueWhereAllWasBad) {
  write({reading(midnight, std::nullopt, Quality::Bad), reading(midnight + 1s, 1.0, Quality::Bad)});
  for (const Duration every : {Duration(1s), Duration(1min), Duration(1h)}) {
    for (const HistoryRow& row : read(midnight, midnight + 1h, every)) {
      EXPECT_EQ(row.value, std::nullopt);
      EXPECT_EQ(row.low, std::nullopt);
      EXPECT_EQ(row.quality, Quality::Bad);
    }
  }
}

TEST_F(History, CountsAReadingThatComesTwiceOnce) {
  for (int i = 0; i < 2; ++i) {
    write({reading(midnight, 10.0), reading(midnight + 1s, 40.0)});
    write({reading(midnight + 2s, 10.0)});
  }
  EXPECT_DOUBLE_EQ(*read(midnight, midnight + 1h, 1min).at(0).value, 20.0);
  EXPECT_DOUBLE_EQ(*read(midnight, midnight + 1h, 1h).at(0).value, 20.0);
}

TEST_F(History, GivesTheSpansThatTheAskedTimeTouches) {
  write({reading(midnight, 1.0), reading(midnight + 60s, 2.0), reading(midnight + 120s, 3.0)});
  const auto rows = read(midnight + 61s, midnight + 120s, 1min);
  ASSERT_EQ(rows.size(), 1u);
  EXPECT_EQ(rows[0].value, 2.0);
}

TEST_F(History, RoundsAnIntervalUpToWholeMinutesOrHours) {
  write({reading(midnight, 1.0), reading(midnight + 61s, 3.0), reading(midnight + 2h, 5.0)});
  EXPECT_EQ(read(midnight, midnight + 3h, 90s).size(), 2u);
  EXPECT_EQ(read(midnight, midnight + 3h, 61min).size(), 2u);
}

TEST_F(History, ForgetsReadingsAfterTheirTimeAndMinutesAfterTheirsButNoHours) {
  write({reading(midnight, 7.0)});
  write({reading(midnight + 25h, 8.0)});
  EXPECT_EQ(read(midnight, midnight + 1h, 1s).size(), 0u);
  EXPECT_EQ(read(midnight, midnight + 1h, 1min).size(), 1u);
  write({reading(midnight + 49h, 9.0)});
  EXPECT_EQ(read(midnight, midnight + 1h, 1min).size(), 0u);
  EXPECT_EQ(read(midnight, midnight + 1h, 1h).at(0).value, 7.0);
}

TEST_F(History, KnowsAProbeOfWhichNothingWasEverKept) {
  write({reading(midnight, 1.0)});
  const auto rows = query_history(folder_.path(), {"mixer", "bath", midnight, midnight + 1h});
  ASSERT_TRUE(rows.ok());
  EXPECT_FALSE(rows->has_value());
}

}  // namespace
}  // namespace brinegate::daemon
