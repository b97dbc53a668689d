// SPDX-License-Identifier: Apache-2.0
// See history_tables.h.
#include "daemon/history_tables.h"

#include <algorithm>
#include <cstdint>
#include <string_view>
#include <utility>

#include "daemon/engine/engine.h"

namespace brinegate::daemon {
namespace {

using std::chrono::hours;
using std::chrono::minutes;

constexpr std::string_view add_series_sql =
    "INSERT OR IGNORE INTO series(station, probe) VALUES(?, ?)";
constexpr std::string_view add_reading_sql =
    "INSERT INTO reading(series, at_ns, quality, value) "
    "SELECT id, ?3, ?4, ?5 FROM series WHERE station = ?1 AND probe = ?2 ON CONFLICT DO NOTHING";
// Right after the reading, and after its other summary: one that was there already counts once.
constexpr std::string_view add_to_summary_sql =
    "INSERT INTO summary(series, span_s, at_s, readings, sum, low, high, quality) "
    "SELECT id, ?3, ?4, ?5 IS NOT NULL, coalesce(?5, 0.0), ?5, ?5, ?6 FROM series "
    "WHERE station = ?1 AND probe = ?2 AND changes() > 0 "
    "ON CONFLICT(series, span_s, at_s) DO UPDATE SET readings = readings + excluded.readings, "
    "sum = sum + excluded.sum, low = min(coalesce(low, excluded.low), coalesce(excluded.low, "
    "low)), "
    "high = max(coalesce(high, excluded.high), coalesce(excluded.high, high)), "
    "quality = min(quality, excluded.quality)";
// The cross joins make it one search a series instead of a scan of all rows.
constexpr std::string_view delete_old_readings_sql =
    "DELETE FROM reading WHERE (series, at_ns) IN "
    "(SELECT series, at_ns FROM series CROSS JOIN reading ON series = id WHERE at_ns < ?1 "
    "LIMIT ?2)";
constexpr std::string_view delete_old_minutes_sql =
    "DELETE FROM summary WHERE (series, span_s, at_s) IN "
    "(SELECT series, span_s, at_s FROM series CROSS JOIN summary ON series = id AND span_s = 60 "
    "WHERE at_s < ?1 LIMIT ?2)";

constexpr std::string_view query_series_sql =
    "SELECT id FROM series WHERE station = ?1 AND probe = ?2";
constexpr std::string_view query_readings_sql =
    "SELECT min(at_ns), avg(value) FILTER (WHERE quality > 0), "
    "min(value) FILTER (WHERE quality > 0), max(value) FILTER (WHERE quality > 0), min(quality) "
    "FROM reading WHERE series = ?1 AND at_ns >= ?2 AND at_ns < ?3 GROUP BY at_ns / ?4 ORDER BY 1";
constexpr std::string_view query_summary_sql =
    "SELECT min(at_s) * 1000000000, sum(sum) / nullif(sum(readings), 0), min(low), max(high), "
    "min(quality) FROM summary WHERE series = ?1 AND span_s = ?5 AND at_s > ?2 / 1000000000 - ?5 "
    "AND at_s < (?3 + 999999999) / 1000000000 GROUP BY at_s / (?4 / 1000000000) ORDER BY 1";

template <class Span>
std::int64_t span_seconds() {
  return std::chrono::seconds(Span(1)).count();
}

// Since 1970; the beginning of the span in which this lies.
template <class Span>
std::int64_t beginning_s(WallTime at) {
  return std::chrono::floor<Span>(at.time_since_epoch()) / std::chrono::seconds(1);
}

Duration whole_spans(Duration every) {
  if (every >= hours(1)) {
    return std::chrono::ceil<hours>(every);
  }
  return every >= minutes(1) ? std::chrono::ceil<minutes>(every) : every;
}

}  // namespace

std::uintmax_t history_bytes(const config::Site& site) {
  constexpr double reading_bytes = 27.0;
  constexpr double minute_bytes = 50.0;
  const double of_one =
      reading_bytes * (static_cast<double>(site.history.readings / history_every)) +
      minute_bytes * static_cast<double>(site.history.minutes / minutes(1));
  std::size_t series = 0;
  for (const config::Station& station : site.stations) {
    series += station.spec.probes.size() + 1;  // and the salinity
  }
  return static_cast<std::uintmax_t>(of_one * static_cast<double>(series));
}

HistoryWriter::HistoryWriter(Connection connection, config::History kept)
    : connection_(std::move(connection)),
      kept_(kept),
      add_series_(connection_.prepare(add_series_sql)),
      add_reading_(connection_.prepare(add_reading_sql)),
      add_to_summary_(connection_.prepare(add_to_summary_sql)),
      delete_old_readings_(connection_.prepare(delete_old_readings_sql)),
      delete_old_minutes_(connection_.prepare(delete_old_minutes_sql)) {}

Result<HistoryWriter> HistoryWriter::open(const std::filesystem::path& data, config::History kept) {
  Result<Connection> opened = open_fast_writer(data);
  if (!opened.ok()) {
    return opened.error();
  }
  return HistoryWriter(std::move(opened).value(), kept);
}

void HistoryWriter::add(const ReadingRow& row, Transaction& transaction) {
  const auto quality = static_cast<std::int64_t>(row.quality);
  add_series_.bind(1, row.station).bind(2, row.probe);
  transaction.run(add_series_);
  add_reading_.bind(1, row.station)
      .bind(2, row.probe)
      .bind(3, nanoseconds(row.at))
      .bind(4, quality);
  if (row.value) {
    add_reading_.bind(5, *row.value);
  }
  transaction.run(add_reading_);
  for (const auto& [span, at] : {std::pair(span_seconds<minutes>(), beginning_s<minutes>(row.at)),
                                 std::pair(span_seconds<hours>(), beginning_s<hours>(row.at))}) {
    add_to_summary_.bind(1, row.station).bind(2, row.probe).bind(3, span).bind(4, at);
    if (row.value && row.quality != Quality::Bad) {
      add_to_summary_.bind(5, *row.value);
    }
    add_to_summary_.bind(6, quality);
    transaction.run(add_to_summary_);
  }
}

Result<Done> HistoryWriter::append(const AppendReadings& append) {
  if (append.rows.empty()) {
    return Done{};
  }
  Transaction transaction(connection_);
  WallTime newest = append.rows.front().at;
  for (const ReadingRow& row : append.rows) {
    newest = std::max(newest, row.at);
    add(row, transaction);
  }
  const auto most = static_cast<std::int64_t>(2 * append.rows.size());
  delete_old_readings_.bind(1, nanoseconds(newest - kept_.readings)).bind(2, most);
  transaction.run(delete_old_readings_);
  delete_old_minutes_.bind(1, beginning_s<minutes>(newest - kept_.minutes)).bind(2, most);
  transaction.run(delete_old_minutes_);
  return transaction.commit();
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
    return about_database(data, found.error());
  }
  if (!*found) {
    return std::optional<std::vector<HistoryRow>>();
  }
  const Duration every = whole_spans(query.every);
  const bool summed = every >= minutes(1);
  Statement select = connection.prepare(summed ? query_summary_sql : query_readings_sql);
  select.bind(1, series.integer(0))
      .bind(2, nanoseconds(query.from))
      .bind(3, nanoseconds(query.to))
      .bind(4, every.count());
  if (summed) {
    select.bind(5, every >= hours(1) ? span_seconds<hours>() : span_seconds<minutes>());
  }
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
    return about_database(data, row.error());
  }
  return std::optional(std::move(rows));
}

}  // namespace brinegate::daemon
