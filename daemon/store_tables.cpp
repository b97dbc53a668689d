// SPDX-License-Identifier: Apache-2.0
// See store_tables.h.
#include "daemon/store_tables.h"

#include <algorithm>
#include <string_view>
#include <utility>

#include "daemon/record_chain.h"

namespace brinegate::daemon {
namespace {

constexpr std::string_view add_entry_sql =
    "INSERT INTO record(at_ns, station, kind, body, chain) VALUES(?, ?, ?, ?, ?)";
constexpr std::string_view last_chain_sql = "SELECT chain FROM record ORDER BY seq DESC LIMIT 1";
constexpr std::string_view put_state_sql =
    "INSERT INTO state(kind, key, station, body) VALUES(?, ?, ?, ?) "
    "ON CONFLICT(kind, key) DO UPDATE SET station = excluded.station, body = excluded.body";
constexpr std::string_view delete_state_sql = "DELETE FROM state WHERE kind = ? AND key = ?";
constexpr std::string_view query_states_sql =
    "SELECT kind, key, station, body FROM state "
    "WHERE (?1 = '' OR kind = ?1) AND (?2 = '' OR station = ?2) ORDER BY kind, key";

std::string record_sql(const RecordQuery& query) {
  std::string sql =
      "SELECT seq, at_ns, station, kind, body, chain FROM record WHERE (?1 = '' OR "
      "station = ?1) AND (?2 = '' OR instr(body, ?2) > 0)";
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

RecordWriter::RecordWriter(Connection connection)
    : connection_(std::move(connection)),
      add_entry_(connection_.prepare(add_entry_sql)),
      put_state_(connection_.prepare(put_state_sql)),
      delete_state_(connection_.prepare(delete_state_sql)) {}

Result<RecordWriter> RecordWriter::open(const std::filesystem::path& data) {
  Result<Connection> opened = open_durable_writer(data);
  if (!opened.ok()) {
    return opened.error();
  }
  return RecordWriter(std::move(opened).value());
}

Result<std::string> RecordWriter::last_chain() {
  Statement last = connection_.prepare(last_chain_sql);
  const Result<bool> found = last.step();
  if (!found.ok()) {
    return found.error();
  }
  return *found ? last.text(0) : std::string();
}

Result<Done> RecordWriter::append(const Append& append) {
  if (connection_.file_has_moved()) {
    return Error{"the database file was deleted or replaced while the daemon runs: restart it"};
  }
  if (!last_chain_) {
    const Result<std::string> last = last_chain();
    if (!last.ok()) {
      return last.error();
    }
    last_chain_ = *last;
  }
  std::string chain = *std::exchange(last_chain_, std::nullopt);
  Transaction transaction(connection_);
  for (const RecordEntry& entry : append.entries) {
    chain = chain_hash(chain, entry);
    add_entry_.bind(1, nanoseconds(entry.at))
        .bind(2, entry.station)
        .bind(3, entry.kind)
        .bind(4, entry.body)
        .bind(5, chain);
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
  Result<Done> committed = transaction.commit();
  if (committed.ok()) {
    last_chain_ = std::move(chain);
  }
  return committed;
}

Result<std::vector<RecordRow>> query_record(const std::filesystem::path& data,
                                            const RecordQuery& query) {
  Result<Connection> opened = open_reader(data);
  if (!opened.ok()) {
    return opened.error();
  }
  Connection connection = std::move(opened).value();
  Statement select = connection.prepare(record_sql(query));
  select.bind(1, query.station).bind(2, query.mentions);
  int parameter = 2;
  for (const std::string& kind : query.kinds) {
    select.bind(++parameter, kind);
  }
  std::vector<RecordRow> rows;
  Result<bool> row = select.step();
  for (; row.ok() && *row; row = select.step()) {
    rows.push_back(
        {select.integer(0),
         {WallTime(Duration(select.integer(1))), select.text(2), select.text(3), select.text(4)},
         select.text(5)});
  }
  if (!row.ok()) {
    return about_database(data, row.error());
  }
  std::reverse(rows.begin(), rows.end());
  return rows;
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
    return about_database(data, row.error());
  }
  return states;
}

}  // namespace brinegate::daemon
