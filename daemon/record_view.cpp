// SPDX-License-Identifier: Apache-2.0
// See record_view.h.
#include "daemon/record_view.h"

#include <cstddef>
#include <utility>

#include <nlohmann/json.hpp>

#include "daemon/engine/view.h"

namespace brinegate::daemon {
namespace {

constexpr std::size_t most_of_a_batch = 100'000;

}  // namespace

Json body_of(const std::string& text) {
  Json body = Json::parse(text, nullptr, false);
  return body.is_object() ? body : Json{{"unreadable", text}};
}

Json record_view(const RecordRow& row) {
  return {{"sequence", row.sequence},        {"at", iso_time(row.entry.at)},
          {"station", row.entry.station},    {"kind", row.entry.kind},
          {"body", body_of(row.entry.body)}, {"hash", row.chain}};
}

Result<std::vector<RecordRow>> query_batch(const std::filesystem::path& data,
                                           const std::string& station, const std::string& batch) {
  auto rows = query_record(
      data, {.station = station, .kinds = {}, .limit = most_of_a_batch, .mentions = batch});
  if (!rows.ok()) {
    return rows.error();
  }
  std::vector<RecordRow> all = std::move(rows).value();
  std::erase_if(all, [&batch](const RecordRow& row) {
    const bool is_batch = row.entry.kind.starts_with("batch-") || row.entry.kind == "proven";
    return body_of(row.entry.body).value(is_batch ? "id" : "batch", Json()) != batch;
  });
  return all;
}

}  // namespace brinegate::daemon
