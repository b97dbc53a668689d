// SPDX-License-Identifier: Apache-2.0
// One production lot of salt mix, and what a batch is made from.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "rules/chemistry/assay.h"
#include "rules/time.h"

namespace brinegate {

// A version never changes: editing a lot makes the next one, and batches keep the one they used.
struct Lot {
  std::string name;                    // "H-2291"
  std::string salt;                    // "Harbour blend"; may be empty
  int version = 0;                     // 1, 2, …
  std::optional<WallTime> expires;     // the end of its last day, UTC
  std::optional<double> dry_fraction;  // as stated with it; range (0.2, 1]
  Assay assay;
  std::string entered_by;
  WallTime entered;

  bool operator==(const Lot&) const = default;
};

// What a batch has of one lot.
struct LotPart {
  std::string lot;
  int version = 0;                     // 0: a name only, of which nothing is on record
  double share = 1.0;                  // of the batch's anhydrous sea salt
  std::optional<Duration> expires_in;  // counted from the batch's begin; below 0: had expired

  bool operator==(const LotPart&) const = default;
};

// By the age of the batch, which no jump of the wall clock changes.
inline bool has_expired(const LotPart& part, Duration age) {
  return part.expires_in && age >= *part.expires_in;
}

// The salt of a batch: its lots, and the composition of their mixture where all are on record.
struct BatchSalt {
  std::vector<LotPart> parts;  // greatest share first; shares add up to 1, or to less where some
                               // of the salt was not named
  std::optional<Composition> composition;

  bool operator==(const BatchSalt&) const = default;
};

// What a batch takes of this lot now, by the wall clock; where that was never set, as if the lot
// expired now.
BatchSalt salt_of(const Lot& lot, WallTime now);

// The same lot in the same version counts once, with the sooner expiry. Shares of `a` and `b` in g
// of anhydrous sea salt; where one of them is 0, the other comes out as it is.
BatchSalt combined(const BatchSalt& a, double a_dry_grams, const BatchSalt& b, double b_dry_grams);

// Some of it is of no lot that was named.
bool has_unnamed(const BatchSalt& salt);

// With `expires_in` counted from an instant that lies so much earlier.
BatchSalt counted_from(BatchSalt salt, Duration earlier);

// "H-2291", or "H-2291 + H-2304"; empty where none was named.
std::string name_of(const BatchSalt& salt);

}  // namespace brinegate
