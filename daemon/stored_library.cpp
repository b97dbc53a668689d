// SPDX-License-Identifier: Apache-2.0
// See stored_library.h.
#include "daemon/stored_library.h"

#include <fmt/format.h>

#include "daemon/store_tables.h"

namespace brinegate::daemon {

Result<Library> stored_library(const std::filesystem::path& data) {
  const auto states = query_states(data, "", "");
  if (!states) {
    return states.error();
  }
  Library library;
  // A tank stands before what belongs to it.
  for (const bool tanks : {true, false}) {
    for (const StoredState& state : *states) {
      if (!Library::keeps(state.table) || (state.table == "tank") != tanks) {
        continue;
      }
      if (const auto restored = library.restore(state); !restored) {
        return Error{fmt::format("{} {}: {}", state.table, state.key, restored.error().message)};
      }
    }
  }
  return library;
}

}  // namespace brinegate::daemon
