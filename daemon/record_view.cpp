// SPDX-License-Identifier: Apache-2.0
// See record_view.h.
#include "daemon/record_view.h"

#include <nlohmann/json.hpp>

#include "daemon/engine/view.h"

namespace brinegate::daemon {

Json body_of(const std::string& text) {
  Json body = Json::parse(text, nullptr, false);
  return body.is_object() ? body : Json{{"unreadable", text}};
}

Json record_view(const RecordRow& row) {
  return {{"sequence", row.sequence},        {"at", iso_time(row.entry.at)},
          {"station", row.entry.station},    {"kind", row.entry.kind},
          {"body", body_of(row.entry.body)}, {"hash", row.chain}};
}

bool concerns_batch(const RecordRow& row, std::string_view batch) {
  const Json body = body_of(row.entry.body);
  const bool is_batch = row.entry.kind.starts_with("batch-") || row.entry.kind == "proven";
  return body.value(is_batch ? "id" : "batch", Json()) == batch;
}

}  // namespace brinegate::daemon
