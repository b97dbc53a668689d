// SPDX-License-Identifier: Apache-2.0
// See sqlite.h.
#include "daemon/sqlite.h"

#include <cassert>
#include <cstring>
#include <utility>

#include <sqlite3.h>

namespace brinegate::daemon {
namespace {

constexpr int busy_timeout_ms = 2000;

Error error_of(sqlite3* database) {
  std::string message = sqlite3_errmsg(database);
  const int primary = sqlite3_errcode(database) & 0xff;
  const int system = sqlite3_system_errno(database);
  const bool of_the_system =
      primary == SQLITE_IOERR || primary == SQLITE_CANTOPEN || primary == SQLITE_FULL;
  if (of_the_system && system != 0) {
    message += std::string(" (") + std::strerror(system) + ")";
  }
  return {message};
}

}  // namespace

void Statement::Finalize::operator()(sqlite3_stmt* statement) const {
  sqlite3_finalize(statement);
}

Statement& Statement::remember(int code) {
  if (statement_ != nullptr && bind_error_ == SQLITE_OK) {
    bind_error_ = code;
  }
  return *this;
}

Statement& Statement::bind(int parameter, std::int64_t value) {
  return remember(sqlite3_bind_int64(statement_.get(), parameter, value));
}

Statement& Statement::bind(int parameter, double value) {
  return remember(sqlite3_bind_double(statement_.get(), parameter, value));
}

Statement& Statement::bind(int parameter, std::string_view text) {
  const char* data = text.data() == nullptr ? "" : text.data();  // a null pointer would bind NULL
  // Without a destructor SQLite neither copies nor frees the text.
  return remember(
      sqlite3_bind_text64(statement_.get(), parameter, data, text.size(), nullptr, SQLITE_UTF8));
}

Statement& Statement::bind_null(int parameter) {
  return remember(sqlite3_bind_null(statement_.get(), parameter));
}

Result<bool> Statement::step() {
  if (statement_ == nullptr) {
    return Error{prepare_error_};
  }
  if (const int code = std::exchange(bind_error_, SQLITE_OK); code != SQLITE_OK) {
    reset();
    return Error{std::string("cannot bind a value: ") + sqlite3_errstr(code)};
  }
  switch (sqlite3_step(statement_.get())) {
    case SQLITE_ROW:
      return true;
    case SQLITE_DONE:
      reset();
      return false;
    default: {
      Error error = error_of(sqlite3_db_handle(statement_.get()));
      reset();
      return error;
    }
  }
}

void Statement::reset() {
  sqlite3_reset(statement_.get());  // its code repeats that of the last step
  sqlite3_clear_bindings(statement_.get());
}

std::int64_t Statement::integer(int column) const {
  return sqlite3_column_int64(statement_.get(), column);
}

double Statement::real(int column) const {
  return sqlite3_column_double(statement_.get(), column);
}

std::string Statement::text(int column) const {
  const void* data = sqlite3_column_blob(statement_.get(), column);
  const int size = sqlite3_column_bytes(statement_.get(), column);
  return data == nullptr
             ? std::string()
             : std::string(static_cast<const char*>(data), static_cast<std::size_t>(size));
}

bool Statement::is_null(int column) const {
  return sqlite3_column_type(statement_.get(), column) == SQLITE_NULL;
}

void Connection::Close::operator()(sqlite3* database) const {
  sqlite3_close_v2(database);
}

Result<Connection> Connection::open(const std::filesystem::path& file, Access access) {
  const int flags = SQLITE_OPEN_NOMUTEX |
                    (access == Access::ReadOnly ? SQLITE_OPEN_READONLY
                                                : SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE);
  sqlite3* raw = nullptr;
  const int code = sqlite3_open_v2(file.c_str(), &raw, flags, nullptr);
  Connection connection(raw);
  if (code != SQLITE_OK) {
    return raw == nullptr ? Error{sqlite3_errstr(code)} : error_of(raw);
  }
  sqlite3_extended_result_codes(raw, 1);
  sqlite3_busy_timeout(raw, busy_timeout_ms);
  return connection;
}

Result<Done> Connection::execute(const std::string& sql) {
  if (sqlite3_exec(database_.get(), sql.c_str(), nullptr, nullptr, nullptr) != SQLITE_OK) {
    return error_of(database_.get());
  }
  return Done{};
}

Statement Connection::prepare(std::string_view sql) {
  sqlite3_stmt* raw = nullptr;
  if (sqlite3_prepare_v3(database_.get(), sql.data(), static_cast<int>(sql.size()),
                         SQLITE_PREPARE_PERSISTENT, &raw, nullptr) != SQLITE_OK) {
    return {nullptr, error_of(database_.get()).message};
  }
  return {raw, ""};
}

Result<std::int64_t> Connection::query_integer(std::string_view sql) {
  Statement statement = prepare(sql);
  const Result<bool> row = statement.step();
  if (!row.ok()) {
    return row.error();
  }
  assert(*row);
  return statement.integer(0);
}

bool Connection::file_has_moved() const {
  int moved = 0;
  sqlite3_file_control(database_.get(), "main", SQLITE_FCNTL_HAS_MOVED, &moved);
  return moved != 0;
}

void Connection::roll_back_if_open() {
  // SQLite has already undone a transaction that failed for want of space or of the disk.
  if (sqlite3_get_autocommit(database_.get()) == 0) {
    sqlite3_exec(database_.get(), "ROLLBACK", nullptr, nullptr, nullptr);
  }
}

Transaction::Transaction(Connection& connection)
    : connection_(connection), so_far_(connection.execute("BEGIN IMMEDIATE")) {}

Transaction::~Transaction() {
  connection_.roll_back_if_open();
}

void Transaction::run(Statement& statement) {
  if (!so_far_.ok()) {
    return;
  }
  if (const Result<bool> row = statement.step(); !row.ok()) {
    so_far_ = row.error();
  }
}

void Transaction::execute(const std::string& sql) {
  if (so_far_.ok()) {
    so_far_ = connection_.execute(sql);
  }
}

Result<Done> Transaction::commit() {
  execute("COMMIT");
  return so_far_;
}

}  // namespace brinegate::daemon
