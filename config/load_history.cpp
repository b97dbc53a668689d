// SPDX-License-Identifier: Apache-2.0
// Section [history]: how long what was read is kept.
#include "config/load_sections.h"
#include "config/quantity.h"

namespace brinegate::config {

History read_history(const Node& node, Problems& problems) {
  TableReader reader(node, known::history, "history", problems);
  History history;
  reader.read("readings", parse_duration, {"1 h", "3660 d"}, history.readings);
  reader.read("minutes", parse_duration, {"1 d", "3660 d"}, history.minutes);
  return history;
}

}  // namespace brinegate::config
