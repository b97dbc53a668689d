// SPDX-License-Identifier: Apache-2.0
// The one database file: its layout, and connections that know it. What stands in its tables is
// said in store_tables.h and history_tables.h.
#pragma once

#include <cstdint>
#include <filesystem>

#include "daemon/sqlite.h"
#include "rules/result.h"
#include "rules/time.h"

namespace brinegate::daemon {

std::filesystem::path database_file(const std::filesystem::path& data);

// Writers are in write-ahead mode: readers and other writers go on while one writes. Of the first,
// what is committed survives a loss of power. It creates the database, or checks that it is one of
// ours with a layout known here, and that the record and the states in it are sound.
Result<Connection> open_durable_writer(const std::filesystem::path& data);
// After that one. Of what is committed the last may be lost with the power.
Result<Connection> open_fast_writer(const std::filesystem::path& data);
// Whether or not the daemon runs.
Result<Connection> open_reader(const std::filesystem::path& data);

// An error that names the file.
Error about_database(const std::filesystem::path& data, const Error& error);
// Since 1970, as the tables hold it.
std::int64_t nanoseconds(WallTime at);

}  // namespace brinegate::daemon
