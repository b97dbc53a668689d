// SPDX-License-Identifier: Apache-2.0
// The lots and the tanks on record, every version of every lot. Knows no disk: what changes is
// added to an Append as stored states and as entries of the record. Stored are, each by itself so
// that a long history is never written again: "lot" (key NAME/VERSION), "tank" (key NAME),
// "water-test" (key NAME/TIME) and "tank-change" (key NAME/TIME/BATCH).
#pragma once

#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/engine/effects.h"
#include "rules/chemistry/lot.h"
#include "rules/chemistry/tank.h"
#include "rules/result.h"
#include "rules/time.h"

namespace brinegate::daemon {

// Who entered something, and when.
struct EnteredBy {
  std::string person;
  WallTime at;
};

class Library {
 public:
  // Whether what is stored in this table belongs here.
  static bool keeps(std::string_view table);
  // In any order. Error where what was stored cannot be read.
  Result<Done> restore(const StoredState& state);

  // The next version of the lot of that name, 1 of a new one. What says the same as the latest
  // version is refused.
  Result<Lot> add_lot(Lot lot, const EnteredBy& by, Append& append);
  // A new tank, or new particulars of one: its tests and changes stay.
  Result<Tank> put_tank(Tank tank, const EnteredBy& by, Append& append);
  // In order of time; a second test of the same instant is refused, and a second change with the
  // same batch. Error for an unknown tank.
  Result<Tank> add_test(const std::string& tank, WaterTest test, WallTime now, Append& append);
  Result<Tank> add_change(const std::string& tank, TankChange change, WallTime now, Append& append);

  // Version 0: the latest. Null where there is none.
  [[nodiscard]] const Lot* lot(const std::string& name, int version = 0) const;
  [[nodiscard]] const Tank* tank(const std::string& name) const;
  // The latest version of each, by name.
  [[nodiscard]] std::vector<Lot> lots() const;
  [[nodiscard]] std::vector<Tank> tanks() const;
  // "there is no lot 'H-2219': did you mean 'H-2291'?"
  [[nodiscard]] Error unknown_lot(const std::string& name) const;
  [[nodiscard]] Error unknown_tank(const std::string& name) const;

 private:
  std::map<std::string, std::map<int, Lot>> lots_;
  std::map<std::string, Tank> tanks_;
};

}  // namespace brinegate::daemon
