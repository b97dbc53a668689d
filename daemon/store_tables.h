// SPDX-License-Identifier: Apache-2.0
// The record and the latest states: the transactions on them, durable before they are acknowledged,
// and what can be asked of them.
#pragma once

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "daemon/database.h"
#include "daemon/engine/effects.h"
#include "daemon/engine/engine.h"
#include "rules/result.h"

namespace brinegate::daemon {

// Writes the record, with its chain (record_chain.h), and the states. What append() acknowledged
// survives a loss of power.
class RecordWriter {
 public:
  static Result<RecordWriter> open(const std::filesystem::path& data);

  // Whole or not at all.
  Result<Done> append(const Append& append);

 private:
  explicit RecordWriter(Connection connection);
  Result<std::string> last_chain();

  Connection connection_;
  Statement add_entry_;
  Statement put_state_;
  Statement delete_state_;
  std::optional<std::string> last_chain_;  // none: to be read, at first and after a failure
};

struct RecordQuery {
  std::string station;             // empty: all
  std::vector<std::string> kinds;  // empty: all
  std::size_t limit = 1000;        // the newest ones
  std::string mentions{};          // a text in the body; empty: whatever it says
};

struct RecordRow {
  std::int64_t sequence = 0;
  RecordEntry entry;
  std::string chain;
};

// These read the database whether or not the daemon runs.
// Oldest first.
Result<std::vector<RecordRow>> query_record(const std::filesystem::path& data,
                                            const RecordQuery& query);
// Latest states of one table or (empty) all, of one station or (empty) all, ordered by key.
Result<RestoredStates> query_states(const std::filesystem::path& data, const std::string& table,
                                    const std::string& station);

}  // namespace brinegate::daemon
