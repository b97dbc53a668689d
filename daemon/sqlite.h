// SPDX-License-Identifier: Apache-2.0
// SQLite with owners and Results instead of raw handles and codes. One connection belongs to one
// thread.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <string>
#include <string_view>
#include <utility>

#include "rules/result.h"

struct sqlite3;
struct sqlite3_stmt;

namespace brinegate::daemon {

class Statement {
 public:
  // Parameters count from 1. Text has to outlive the next step.
  Statement& bind(int parameter, std::int64_t value);
  Statement& bind(int parameter, double value);
  Statement& bind(int parameter, std::string_view text);
  Statement& bind_null(int parameter);

  // True: a row can be read. False: finished. Finished or failed, it can be bound and run again.
  // What went wrong while preparing or binding is said here.
  Result<bool> step();

  // Columns count from 0.
  [[nodiscard]] std::int64_t integer(int column) const;
  [[nodiscard]] double real(int column) const;
  [[nodiscard]] std::string text(int column) const;
  [[nodiscard]] bool is_null(int column) const;

 private:
  friend class Connection;
  struct Finalize {
    void operator()(sqlite3_stmt* statement) const;
  };

  Statement(sqlite3_stmt* statement, std::string prepare_error)
      : statement_(statement), prepare_error_(std::move(prepare_error)) {}
  Statement& remember(int code);
  void reset();

  std::unique_ptr<sqlite3_stmt, Finalize> statement_;
  std::string prepare_error_;
  int bind_error_ = 0;
};

class Connection {
 public:
  enum class Access { ReadOnly, ReadWriteCreate };

  static Result<Connection> open(const std::filesystem::path& file, Access access);

  // One or more statements whose rows, if any, do not matter.
  Result<Done> execute(const std::string& sql);
  Statement prepare(std::string_view sql);
  // The first column of the first row, of a query that has one.
  Result<std::int64_t> query_integer(std::string_view sql);

  // Whether the file was deleted or replaced, so that what is written would be lost.
  [[nodiscard]] bool file_has_moved() const;
  void roll_back_if_open();

 private:
  struct Close {
    void operator()(sqlite3* database) const;
  };

  explicit Connection(sqlite3* database) : database_(database) {}

  std::unique_ptr<sqlite3, Close> database_;
};

// Several statements, all or none. After the first that fails the others are passed over; commit
// says what it was. Undone unless committed.
class Transaction {
 public:
  explicit Transaction(Connection& connection);
  Transaction(const Transaction&) = delete;
  Transaction& operator=(const Transaction&) = delete;
  ~Transaction();

  void run(Statement& statement);
  void execute(const std::string& sql);
  Result<Done> commit();

 private:
  Connection& connection_;
  Result<Done> so_far_;
};

}  // namespace brinegate::daemon
