// SPDX-License-Identifier: Apache-2.0
// See database.h.
#include "daemon/database.h"

#include <string>
#include <string_view>
#include <utility>

#include <fmt/format.h>

namespace brinegate::daemon {
namespace {

constexpr std::int64_t schema_version = 3;

// Series keep the history small: a reading is some 24 bytes. A summary is of all readings of a
// minute or an hour: their number and sum, lowest and highest are of those that were not bad.
constexpr const char* schema = R"(
CREATE TABLE record(
  seq INTEGER PRIMARY KEY,
  at_ns INTEGER NOT NULL,
  station TEXT NOT NULL,
  kind TEXT NOT NULL,
  body TEXT NOT NULL,
  chain TEXT NOT NULL
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
CREATE TABLE summary(
  series INTEGER NOT NULL REFERENCES series(id),
  span_s INTEGER NOT NULL,
  at_s INTEGER NOT NULL,
  readings INTEGER NOT NULL,
  sum REAL NOT NULL,
  low REAL,
  high REAL,
  quality INTEGER NOT NULL,
  PRIMARY KEY(series, span_s, at_s)
) STRICT, WITHOUT ROWID;
)";

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

Result<Connection> open_writer(const std::filesystem::path& data, std::string_view synchronous) {
  Result<Connection> opened =
      Connection::open(database_file(data), Connection::Access::ReadWriteCreate);
  if (!opened.ok()) {
    return about_database(data, opened.error());
  }
  Connection connection = std::move(opened).value();
  const Result<Done> configured =
      connection.execute(fmt::format("PRAGMA journal_mode = WAL; PRAGMA synchronous = {}; "
                                     "PRAGMA journal_size_limit = 16777216;",
                                     synchronous));
  if (!configured.ok()) {
    return about_database(data, configured.error());
  }
  return connection;
}

}  // namespace

std::filesystem::path database_file(const std::filesystem::path& data) {
  return data / "brinegate.db";
}

Result<Connection> open_durable_writer(const std::filesystem::path& data) {
  Result<Connection> opened = open_writer(data, "FULL");
  if (!opened.ok()) {
    return opened.error();
  }
  Connection connection = std::move(opened).value();
  if (const Result<Done> known = create_or_check_schema(connection); !known.ok()) {
    return about_database(data, known.error());
  }
  return connection;
}

Result<Connection> open_fast_writer(const std::filesystem::path& data) {
  return open_writer(data, "NORMAL");
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
    return about_database(data, opened.error());
  }
  Connection connection = std::move(opened).value();
  if (const Result<Done> known = require_known_schema(connection); !known.ok()) {
    return about_database(data, known.error());
  }
  return connection;
}

Error about_database(const std::filesystem::path& data, const Error& error) {
  return {fmt::format("database {}: {}", database_file(data).string(), error.message)};
}

std::int64_t nanoseconds(WallTime at) {
  return at.time_since_epoch().count();
}

}  // namespace brinegate::daemon
