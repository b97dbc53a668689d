// SPDX-License-Identifier: Apache-2.0
// See http_batches.h.
#include "daemon/http_batches.h"

#include <algorithm>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "daemon/record_view.h"
#include "daemon/store_tables.h"

namespace brinegate::daemon {
namespace {

// What a list tells of it.
Json summary_of(const StoredState& batch) {
  const Json state = body_of(batch.body);
  Json summary = {{"batch", batch.key}, {"station", batch.station}};
  for (const char* name :
       {"begun", "phase", "end", "lot", "salt_g", "salt_noted", "drawn_l", "proof_lost"}) {
    summary[name] = state.value(name, Json());
  }
  summary["profile"] = state.value("profile", Json::object()).value("name", "");
  const Json proof = state.value("proof", Json());
  summary["proof"] = proof.is_object()
                         ? Json{{"at", proof.value("at", "")}, {"risk", proof.value("risk", 1.0)}}
                         : Json();
  return summary;
}

}  // namespace

HttpResponse batches_response(const std::filesystem::path& data) {
  const auto batches = query_states(data, "batch", "");
  if (!batches) {
    return problem_response(500, batches.error().message);
  }
  Json all = Json::array();
  for (const StoredState& batch : *batches) {
    all.push_back(summary_of(batch));
  }
  std::stable_sort(all.begin(), all.end(), [](const Json& one, const Json& other) {
    return one.at("begun") > other.at("begun");
  });
  return json_response({{"batches", all}});
}

HttpResponse batch_response(const std::filesystem::path& data, const std::string& id) {
  const auto batches = query_states(data, "batch", "");
  if (!batches) {
    return problem_response(500, batches.error().message);
  }
  const auto batch = std::find_if(batches->begin(), batches->end(),
                                  [&id](const StoredState& each) { return each.key == id; });
  if (batch == batches->end()) {
    return problem_response(404, fmt::format("there is no batch '{}' on record", id));
  }
  const auto rows = query_batch(data, batch->station, id);
  if (!rows) {
    return problem_response(500, rows.error().message);
  }
  Json events = Json::array();
  for (const RecordRow& row : *rows) {
    events.push_back(record_view(row));
  }
  Json state = body_of(batch->body);
  state.erase("portions");  // its lots' whole compositions
  return json_response(
      {{"batch", batch->key}, {"station", batch->station}, {"state", state}, {"events", events}});
}

}  // namespace brinegate::daemon
