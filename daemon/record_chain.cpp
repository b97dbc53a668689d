// SPDX-License-Identifier: Apache-2.0
// See record_chain.h.
#include "daemon/record_chain.h"

#include <array>
#include <string_view>
#include <utility>

#include <fmt/format.h>
#include <fmt/ranges.h>
#include <openssl/sha.h>

#include "daemon/database.h"

namespace brinegate::daemon {
namespace {

constexpr std::string_view whole_record_sql =
    "SELECT seq, at_ns, station, kind, body, chain FROM record ORDER BY seq";

}  // namespace

std::string chain_hash(const std::string& before, const RecordEntry& entry) {
  // Only the body may hold a line feed, and it is the last.
  const std::string text = fmt::format("{}\n{}\n{}\n{}\n{}", before, nanoseconds(entry.at),
                                       entry.station, entry.kind, entry.body);
  std::array<unsigned char, SHA256_DIGEST_LENGTH> digest{};
  SHA256(reinterpret_cast<const unsigned char*>(text.data()), text.size(), digest.data());
  return fmt::format("{:02x}", fmt::join(digest, ""));
}

Result<ChainVerdict> verify_chain(const std::filesystem::path& data,
                                  const std::string& looked_for) {
  Result<Connection> opened = open_reader(data);
  if (!opened.ok()) {
    return opened.error();
  }
  Connection connection = std::move(opened).value();
  Statement select = connection.prepare(whole_record_sql);
  ChainVerdict verdict;
  Result<bool> row = select.step();
  for (; row.ok() && *row; row = select.step()) {
    const std::int64_t sequence = select.integer(0);
    const RecordEntry entry{WallTime(Duration(select.integer(1))), select.text(2), select.text(3),
                            select.text(4)};
    ++verdict.entries;
    if (!verdict.broken && select.text(5) != chain_hash(verdict.last, entry)) {
      verdict.broken = sequence;
    }
    verdict.last = select.text(5);
    if (!looked_for.empty() && verdict.last == looked_for) {
      verdict.sought = sequence;
    }
  }
  if (!row.ok()) {
    return about_database(data, row.error());
  }
  return verdict;
}

}  // namespace brinegate::daemon
