// SPDX-License-Identifier: Apache-2.0
// The tables of the database and the transactions on them: the append-only record and the latest
// states (durable before they are acknowledged), the history of readings, and what can be asked.
#pragma once

#include <chrono>
#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "daemon/engine/effects.h"
#include "daemon/engine/engine.h"
#include "daemon/sqlite.h"
#include "rules/result.h"
#include "rules/time.h"

namespace brinegate::daemon {

std::filesystem::path database_file(const std::filesystem::path& data);

// Writes the record and the states. What append() acknowledged survives a loss of power.
class RecordWriter {
 public:
  // Creates the database, or checks that it is one of ours with a layout known here, and that the
  // record and the states in it are sound.
  static Result<RecordWriter> open(const std::filesystem::path& data);

  // Whole or not at all.
  Result<Done> append(const Append& append);

 private:
  explicit RecordWriter(Connection connection);

  Connection connection_;
  Statement add_entry_;
  Statement put_state_;
  Statement delete_state_;
};

// Writes the history of readings, of which the last may be lost with the power.
class HistoryWriter {
 public:
  // After RecordWriter::open.
  static Result<HistoryWriter> open(const std::filesystem::path& data, std::chrono::hours keep);

  // Also deletes what is older than `keep` before the newest of these rows, at most twice as many
  // rows as come in: no long pause, and a clock that jumped cannot empty the history at once.
  Result<Done> append(const AppendReadings& append);

 private:
  HistoryWriter(Connection connection, std::chrono::hours keep);

  Connection connection_;
  std::chrono::hours keep_;
  Statement add_series_;
  Statement add_reading_;
  Statement delete_old_;
};

struct RecordQuery {
  std::string station;             // empty: all
  std::vector<std::string> kinds;  // empty: all
  std::size_t limit = 1000;        // the newest ones
};

struct RecordRow {
  std::int64_t sequence = 0;
  RecordEntry entry;
};

struct HistoryQuery {
  std::string station;
  std::string probe;  // or "salinity"
  WallTime from;
  WallTime to;                               // not included
  Duration every = std::chrono::seconds(1);  // one row for each such interval that has readings
};

// Of one interval.
struct HistoryRow {
  WallTime at;  // of the first reading in it
  // Mean, lowest and highest of those that were not bad; none where all were.
  std::optional<double> value;
  std::optional<double> low;
  std::optional<double> high;
  Quality quality = Quality::Bad;  // the worst
};

// These read the database whether or not the daemon runs.
// Oldest first.
Result<std::vector<RecordRow>> query_record(const std::filesystem::path& data,
                                            const RecordQuery& query);
// Oldest first. None: nothing of this probe was ever kept.
Result<std::optional<std::vector<HistoryRow>>> query_history(const std::filesystem::path& data,
                                                             const HistoryQuery& query);
// Latest states of one table or (empty) all, of one station or (empty) all, ordered by key.
Result<RestoredStates> query_states(const std::filesystem::path& data, const std::string& table,
                                    const std::string& station);

}  // namespace brinegate::daemon
