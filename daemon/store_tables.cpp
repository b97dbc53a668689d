// SPDX-License-Identifier: Apache-2.0
// See store_tables.h.
#include "daemon/store_tables.h"

#include <algorithm>
#include <string_view>
#include <utility>

#include <fmt/format.h>

namespace brinegate::daemon {
namespace {

constexpr std::int64_t schema_version = 2;

// Series keep the history small: a reading is some 24 bytes.
constexpr const char* schema = R"(
CREATE TABLE record(
  seq INTEGER PRIMARY KEY,
  at_ns INTEGER NOT NULL,
  station TEXT NOT NULL,
  kind TEXT NOT NULL,
  body TEXT NOT NULL
) STRICT;
CREATE INDEX record_by_station ON record(station, kind);
CREATE INDEX record_by_kind ON record(kind);
CREATE TRIGGER record_not_updated BEFORE UPDATE ON record
BEGIN SELECT RAISE(ABORT, 'the record is append-only'); END;
CREATE TRIGGER record_not_deleted BEFORE DELETE ON record
BEGIN SELECT RAISE(ABORT, 'the record is append-only'); END;
CREATE TABLE state(
  kind TEXT NOT NULL,
  key TEXT NOT NULL,
  station TEXT NOT NULL,
  body TEXT NOT NULL,
  PRIMARY KEY(kind, key)
) STRICT, WITHOUT ROWID;
CREATE TABLE series(
  id INTEGER PRIMARY KEY,
  station TEXT NOT NULL,
  probe TEXT NOT NULL,
  UNIQUE(station, probe)
) STRICT;
CREATE TABLE reading(
  series INTEGER NOT NULL REFERENCES series(id),
  at_ns INTEGER NOT NULL,
  quality INTEGER NOT NULL,
  value REAL,
  PRIMARY KEY(series, at_ns)
) STRICT, WITHOUT ROWID;
)";

constexpr std::string_view add_entry_sql =
    "INSERT INTO record(at_ns, station, kind, body) VALUES(?, ?, ?, ?)";
constexpr std::string_view put_state_sql =
    "INSERT INTO state(kind, key, station, body) VALUES(?, ?, ?, ?) "
    "ON CONFLICT(kind, key) DO UPDATE SET station = excluded.station, body = excluded.body";
constexpr std::string_view delete_state_sql = "DELETE FROM state WHERE kind = ? AND key = ?";
constexpr std::string_view add_series_sql =
    "INSERT OR IGNORE INTO series(station, probe) VALUES(?, ?)";
constexpr std::string_view add_reading_sql =
    "INSERT OR REPLACE INTO reading(series, at_ns, quality, value) "
    "SELECT id, ?3, ?4, ?5 FROM series WHERE station = ?1 AND probe = ?2";
// The cross join makes it one search a series instead of a scan of all readings.
constexpr std::string_view delete_old_sql =
    "DELETE FROM reading WHERE (series, at_ns) IN "
    "(SELECT series, at_ns FROM series CROSS JOIN reading ON series = id WHERE at_ns < ?1 "
    "LIMIT ?2)";
constexpr std::string_view query_states_sql =
    "SELECT kind, key, station, body FROM state "
    "WHERE (?1 = '' OR kind = ?1) AND (?2 = '' OR station = ?2) ORDER BY kind, key";

constexpr std::string_view query_series_sql =
    "SELECT id FROM series WHERE station = ?1 AND probe = ?2";
constexpr std::string_view query_history_sql =
    "SELECT min(at_ns), avg(value) FILTER (WHERE quality > 0), "
    "min(value) FILTER (WHERE quality > 0), max(value) FILTER (WHERE quality > 0), min(quality) "
    "FROM reading WHERE series = ?1 AND at_ns >= ?2 AND at_ns < ?3 GROUP BY at_ns / ?4 ORDER BY 1";

std::int64_t nanoseconds(WallTime at) {
  return at.time_since_epoch().count();
}

Error about(const std::filesystem::path& file, const Error& error) {
  return {fmt::format("database {}: {}", file.string(), error.message)};
}

Result<Done> require_known_schema(Connection& connection) {
  const Result<std::int64_t> version = connection.query_integer("PRAGMA user_version");
  if (!version.ok()) {
    return version.error();
  }
  if (*version != schema_version) {
    return Error{fmt::format(
        "its layout has version {}, this program knows version {}: use the program that wrote it",
        *version, schema_version)};
  }
  return Done{};
}

// What is decided by and what may never be lost; the history, which is large, is not read through.
Result<Done> require_sound(Connection& connection) {
  for (const std::string_view table : {"state", "record"}) {
    Statement check = connection.prepare(fmt::format("PRAGMA integrity_check({})", table));
    const Result<bool> row = check.step();
    const std::string found = !row.ok() ? row.error().message : *row ? check.text(0) : "ok";
    if (found != "ok") {
      return Error{fmt::format(
          "it is damaged ({}): put a copy of it in its place, or move it away to begin without a "
          "record",
          found)};
    }
  }
  return Done{};
}

Result<Done> create_or_check_schema(Connection& connection) {
  const Result<std::int64_t> objects =
      connection.query_integer("SELECT count(*) FROM sqlite_schema");
  if (!objects.ok()) {
    return objects.error();
  }
  if (*objects > 0) {
    const Result<Done> known = require_known_schema(connection);
    return known.ok() ? require_sound(connection) : known;
  }
  Transaction transaction(connection);
  transaction.execute(schema);
  transaction.execute(fmt::format("PRAGMA user_version = {}", schema_version));
  return transaction.commit();
}

// A connection in write-ahead mode: readers and the other writer go on while this one writes.
Result<Connection> open_writer(const std::filesystem::path& file, std::string_view synchronous) {
  Result<Connection> opened = Connection::open(file, Connection::Access::ReadWriteCreate);
  if (!opened.ok()) {
    return about(file, opened.error());
  }
  Connection connection = std::move(opened).value();
  const Result<Done> configured =
      connection.execute(fmt::format("PRAGMA journal_mode = WAL; PRAGMA synchronous = {}; "
                                     "PRAGMA journal_size_limit = 16777216;",
                                     synchronous));
  if (!configured.ok()) {
    return about(file, configured.error());
  }
  return connection;
}

Result<Connection> open_reader(const std::filesystem::path& data) {
  const std::filesystem::path file = database_file(data);
  std::error_code failure;
  if (!std::filesystem::exists(file, failure)) {
    return Error{fmt::format("there is no database {}: the daemon has not run with this folder",
                             file.string())};
  }
  Result<Connection> opened = Connection::open(file, Connection::Access::ReadOnly);
  if (!opened.ok()) {
    return about(file, opened.error());
  }
  Connection connection = std::move(opened).value();
  if (const Result<Done> known = require_known_schema(connection); !known.ok()) {
    return about(file, known.error());
  }
  return connection;
}

std::string record_sql(const RecordQuery& query) {
  std::string sql =
      "SELECT seq, at_ns, station, kind, body FROM record WHERE (?1 = '' OR "
      "station = ?1)";
  if (!query.kinds.empty()) {
    sql += " AND kind IN (?";
    for (std::size_t more = 1; more < query.kinds.size(); ++more) {
      sql += ", ?";
    }
    sql += ")";
  }
  return sql + " ORDER BY seq DESC LIMIT " + std::to_string(query.limit);
}

}  // namespace

std::filesystem::path database_file(const std::filesystem::path& data) {
  return data / "brinegate.db";
}

RecordWriter::RecordWriter(Connection connection)
    : connection_(std::move(connection)),
      add_entry_(connection_.prepare(add_entry_sql)),
      put_state_(connection_.prepare(put_state_sql)),
      delete_state_(connection_.prepare(delete_state_sql)) {}

Result<RecordWriter> RecordWriter::open(const std::filesystem::path& data) {
  const std::filesystem::path file = database_file(data);
  Result<Connection> opened = open_writer(file, "FULL");
  if (!opened.ok()) {
    return opened.error();
  }
  Connection connection = std::move(opened).value();
  if (const Result<Done> known = create_or_check_schema(connection); !known.ok()) {
    return about(file, known.error());
  }
  return RecordWriter(std::move(connection));
}

Result<Done> RecordWriter::append(const Append& append) {
  if (connection_.file_has_moved()) {
    return Error{"the database file was deleted or replaced while the daemon runs: restart it"};
  }
  Transaction transaction(connection_);
  for (const RecordEntry& entry : append.entries) {
    add_entry_.bind(1, nanoseconds(entry.at))
        .bind(2, entry.station)
        .bind(3, entry.kind)
        .bind(4, entry.body);
    transaction.run(add_entry_);
  }
  for (const StoredState& state : append.states) {
    if (state.body.empty()) {
      delete_state_.bind(1, state.table).bind(2, state.key);
      transaction.run(delete_state_);
      continue;
    }
    put_state_.bind(1, state.table).bind(2, state.key).bind(3, state.station).bind(4, state.body);
    transaction.run(put_state_);
  }
  return transaction.commit();
}

HistoryWriter::HistoryWriter(Connection connection, std::chrono::hours keep)
    : connection_(std::move(connection)),
      keep_(keep),
      add_series_(connection_.prepare(add_series_sql)),
      add_reading_(connection_.prepare(add_reading_sql)),
      delete_old_(connection_.prepare(delete_old_sql)) {}

Result<HistoryWriter> HistoryWriter::open(const std::filesystem::path& data,
                                          std::chrono::hours keep) {
  Result<Connection> opened = open_writer(database_file(data), "NORMAL");
  if (!opened.ok()) {
    return opened.error();
  }
  return HistoryWriter(std::move(opened).value(), keep);
}

Result<Done> HistoryWriter::append(const AppendReadings& append) {
  if (append.rows.empty()) {
    return Done{};
  }
  Transaction transaction(connection_);
  WallTime newest = append.rows.front().at;
  for (const ReadingRow& row : append.rows) {
    newest = std::max(newest, row.at);
    add_series_.bind(1, row.station).bind(2, row.probe);
    transaction.run(add_series_);
    add_reading_.bind(1, row.station)
        .bind(2, row.probe)
        .bind(3, nanoseconds(row.at))
        .bind(4, static_cast<std::int64_t>(row.quality));
    if (row.value) {
      add_reading_.bind(5, *row.value);
    }
    transaction.run(add_reading_);
  }
  delete_old_.bind(1, nanoseconds(newest - keep_))
      .bind(2, static_cast<std::int64_t>(2 * append.rows.size()));
  transaction.run(delete_old_);
  return transaction.commit();
}

Result<std::vector<RecordRow>> query_record(const std::filesystem::path& data,
                                            const RecordQuery& query) {
  Result<Connection> opened = open_reader(data);
  if (!opened.ok()) {
    return opened.error();
  }
  Connection connection = std::move(opened).value();
  Statement select = connection.prepare(record_sql(query));
  select.bind(1, query.station);
  int parameter = 1;
  for (const std::string& kind : query.kinds) {
    select.bind(++parameter, kind);
  }
  std::vector<RecordRow> rows;
  Result<bool> row = select.step();
  for (; row.ok() && *row; row = select.step()) {
    rows.push_back(
        {select.integer(0),
         {WallTime(Duration(select.integer(1))), select.text(2), select.text(3), select.text(4)}});
  }
  if (!row.ok()) {
    return about(database_file(data), row.error());
  }
  std::reverse(rows.begin(), rows.end());
  return rows;
}

Result<std::optional<std::vector<HistoryRow>>> query_history(const std::filesystem::path& data,
                                                             const HistoryQuery& query) {
  Result<Connection> opened = open_reader(data);
  if (!opened.ok()) {
    return opened.error();
  }
  Connection connection = std::move(opened).value();
  Statement series = connection.prepare(query_series_sql);
  series.bind(1, query.station).bind(2, query.probe);
  const Result<bool> found = series.step();
  if (!found.ok()) {
    return about(database_file(data), found.error());
  }
  if (!*found) {
    return std::optional<std::vector<HistoryRow>>();
  }
  Statement select = connection.prepare(query_history_sql);
  select.bind(1, series.integer(0))
      .bind(2, nanoseconds(query.from))
      .bind(3, nanoseconds(query.to))
      .bind(4, query.every.count());
  const auto number = [&select](int column) {
    return select.is_null(column) ? std::nullopt : std::optional(select.real(column));
  };
  std::vector<HistoryRow> rows;
  Result<bool> row = select.step();
  for (; row.ok() && *row; row = select.step()) {
    rows.push_back({WallTime(Duration(select.integer(0))), number(1), number(2), number(3),
                    static_cast<Quality>(select.integer(4))});
  }
  if (!row.ok()) {
    return about(database_file(data), row.error());
  }
  return std::optional(std::move(rows));
}

Result<RestoredStates> query_states(const std::filesystem::path& data, const std::string& table,
                                    const std::string& station) {
  Result<Connection> opened = open_reader(data);
  if (!opened.ok()) {
    return opened.error();
  }
  Connection connection = std::move(opened).value();
  Statement select = connection.prepare(query_states_sql);
  select.bind(1, table).bind(2, station);
  RestoredStates states;
  Result<bool> row = select.step();
  for (; row.ok() && *row; row = select.step()) {
    states.push_back({select.text(0), select.text(1), select.text(2), select.text(3)});
  }
  if (!row.ok()) {
    return about(database_file(data), row.error());
  }
  return states;
}

}  // namespace brinegate::daemon
