// SPDX-License-Identifier: Apache-2.0
// Each entry of the record carries a hash of itself and of the hash before it, so that whoever
// alters or takes out an entry has to alter all that follow, and a hash once printed on a batch
// sheet no longer stands in the record.
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>

#include "daemon/engine/effects.h"
#include "rules/result.h"

namespace brinegate::daemon {

// SHA-256 (FIPS 180-4) in hexadecimal digits. `before` is empty for the first entry.
std::string chain_hash(const std::string& before, const RecordEntry& entry);

struct ChainVerdict {
  std::int64_t entries = 0;            // looked at
  std::string last;                    // hash of the last one; empty: there is none
  std::optional<std::int64_t> broken;  // sequence of the first entry whose hash is not its own
  std::optional<std::int64_t> sought;  // sequence of the entry whose hash was looked for
};

// Reads the whole record, whether or not the daemon runs. `looked_for`: a hash, or empty.
Result<ChainVerdict> verify_chain(const std::filesystem::path& data, const std::string& looked_for);

}  // namespace brinegate::daemon
