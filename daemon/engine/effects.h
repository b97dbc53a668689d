// SPDX-License-Identifier: Apache-2.0
// What the engine wants done: the whole of its output. The shell carries these out in order and
// decides nothing.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include <nlohmann/json_fwd.hpp>

#include "daemon/engine/events.h"
#include "drivers/driver.h"
#include "rules/reading.h"
#include "rules/time.h"

namespace brinegate::daemon {

// Stated again at every change and every renewal.
struct DriveOutput {
  drivers::OutputKey output;
  std::optional<MonoTime> on_until;
};

// One line of the append-only record.
struct RecordEntry {
  WallTime at;
  std::string station;
  std::string kind;  // batch-begun, proven, permit, shut, change-ended, alarm, calibration, ...
  std::string body;  // JSON object
};

// Latest whole state of something, replacing what was stored under (table, key).
struct StoredState {
  // "batch" (key: batch id), "station" (key: station), "calibration", "verification", "probe",
  // "lot-yield", "request", "announced" (key: topic); of the lots and tanks on record see library.h
  std::string table;
  std::string key;
  std::string station;
  std::string body;  // JSON object; empty: it is kept no longer
};

// To be on disk, whole or not at all, before AppendFinished{ticket, true} is said.
struct Append {
  std::uint64_t ticket = 0;
  std::vector<RecordEntry> entries;
  std::vector<StoredState> states;
};

struct ReadingRow {
  std::string station;
  std::string probe;  // or "salinity", the combined estimate (PSU)
  WallTime at;
  Quality quality = Quality::Bad;
  std::optional<double> value;
};

// History, of which the last seconds may be lost with the power. Answered like Append.
struct AppendReadings {
  std::uint64_t ticket = 0;
  std::vector<ReadingRow> rows;
};

struct Publish {
  std::string topic;  // below brinegate/<site>/
  std::string payload;
  bool retained = true;
};

// To home automation, retained, on a topic as it stands (announcer.h). Empty: taken back.
struct Announce {
  std::string topic;
  std::string payload;
};

struct Reply {
  ReplyAddress to = 0;
  std::string station;  // for the reply topic; may be empty
  std::string payload;  // JSON
};

enum class LogLevel { Error, Warning, Info };

struct Log {
  LogLevel level = LogLevel::Info;
  std::string text;
  std::string detail = {};  // behind it; differs each time and does not make it another line
};

using Effect = std::variant<DriveOutput, Append, AppendReadings, Publish, Announce, Reply, Log>;

}  // namespace brinegate::daemon
