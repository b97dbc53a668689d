// SPDX-License-Identifier: Apache-2.0
// The history of readings, for people and their curves: the readings themselves for a while, what
// was of each minute for longer, and of each hour for good, so that a year is drawn at once.
#pragma once

#include <chrono>
#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "config/model.h"
#include "daemon/database.h"
#include "daemon/engine/effects.h"
#include "rules/reading.h"
#include "rules/result.h"
#include "rules/time.h"

namespace brinegate::daemon {

// Roughly what it takes on disk once it is as old as it gets, but for the hours; measured, see
// tests/bench/history_bench.cpp.
std::uintmax_t history_bytes(const config::Site& site);

// Writes the history, of which the last may be lost with the power.
class HistoryWriter {
 public:
  // After RecordWriter::open.
  static Result<HistoryWriter> open(const std::filesystem::path& data, config::History kept);

  // Also deletes what is older than is kept before the newest of these rows, at most twice as many
  // rows as come in: no long pause, and a clock that jumped cannot empty the history at once.
  Result<Done> append(const AppendReadings& append);

 private:
  HistoryWriter(Connection connection, config::History kept);
  void add(const ReadingRow& row, Transaction& transaction);

  Connection connection_;
  config::History kept_;
  Statement add_series_;
  Statement add_reading_;
  Statement add_to_summary_;
  Statement delete_old_readings_;
  Statement delete_old_minutes_;
};

struct HistoryQuery {
  std::string station;
  std::string probe;  // or "salinity"
  WallTime from;
  WallTime to;  // not included
  // One row for each such interval that has readings; from a minute on in whole minutes, from an
  // hour on in whole hours (rounded up), which are answered from the summaries.
  Duration every = std::chrono::seconds(1);
};

// Of one interval.
struct HistoryRow {
  WallTime at;  // of the first reading in it, or of the first minute or hour
  // Mean, lowest and highest of those that were not bad; none where all were.
  std::optional<double> value;
  std::optional<double> low;
  std::optional<double> high;
  Quality quality = Quality::Bad;  // the worst
};

// Reads the database whether or not the daemon runs. Oldest first. None: nothing of this probe was
// ever kept.
Result<std::optional<std::vector<HistoryRow>>> query_history(const std::filesystem::path& data,
                                                             const HistoryQuery& query);

}  // namespace brinegate::daemon
