// SPDX-License-Identifier: Apache-2.0
// See record_view.h.
#include "daemon/record_view.h"

#include <nlohmann/json.hpp>

#include "config/words.h"
#include "daemon/engine/view.h"

namespace brinegate::daemon {
namespace {

constexpr int decimals = 4;

Json number(std::optional<double> value) {
  return value ? rounded(*value, decimals) : Json();
}

}  // namespace

Json body_of(const std::string& text) {
  Json body = Json::parse(text, nullptr, false);
  return body.is_object() ? body : Json{{"unreadable", text}};
}

Json record_view(const RecordRow& row) {
  return {{"sequence", row.sequence},
          {"at", iso_time(row.entry.at)},
          {"station", row.entry.station},
          {"kind", row.entry.kind},
          {"body", body_of(row.entry.body)}};
}

bool concerns_batch(const RecordRow& row, std::string_view batch) {
  const Json body = body_of(row.entry.body);
  const bool is_batch = row.entry.kind.starts_with("batch-") || row.entry.kind == "proven";
  return body.value(is_batch ? "id" : "batch", Json()) == batch;
}

Json reading_view(const HistoryRow& row) {
  return {{"at", iso_time(row.at)},
          {"value", number(row.value)},
          {"low", number(row.low)},
          {"high", number(row.high)},
          {"quality", config::word(row.quality)}};
}

}  // namespace brinegate::daemon
