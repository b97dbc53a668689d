// SPDX-License-Identifier: Apache-2.0
#include "rules/batch.h"

#include <algorithm>
#include <utility>

namespace brinegate {
namespace {

bool same_lot(const BatchSalt& a, const BatchSalt& b) {
  return a.parts.size() == 1 && b.parts.size() == 1 && a.parts[0].lot == b.parts[0].lot &&
         a.parts[0].version == b.parts[0].version;
}

// Of a lot that was named but not weighed one knows the mixture with a rest only where both are the
// same.
BatchSalt in_unknown_shares(const BatchSalt& rest, const BatchSalt& added) {
  BatchSalt both = combined(rest, 1.0, added, 1.0);
  if (both.composition != added.composition)
    both.composition.reset();
  return both;
}

bool is_rest(const SaltPortion& portion) {
  return portion.weighed <= Grams(0.0) && portion.dry > Grams(0.0);
}

// As one product: what is dry of all that was weighed in. Lots are not known to err independently.
SaltProduct product_of_all(const std::vector<SaltPortion>& portions, Grams weighed) {
  if (weighed <= Grams(0.0))
    return portions.back().product;
  SaltProduct all{0.0, 0.0, false};
  for (const SaltPortion& portion : portions) {
    const double share = portion.weighed / weighed;
    if (share >= 1.0)
      return portion.product;
    const double dry = share * portion.product.dry_fraction;
    all.dry_fraction += dry;
    all.dry_fraction_uncertainty += dry * portion.product.dry_fraction_uncertainty;
    all.learned |= share > 0.0 && portion.product.learned;
  }
  all.dry_fraction_uncertainty /= all.dry_fraction;
  return all;
}

BatchSalt lots_of(const Batch& batch) {
  BatchSalt all;
  Grams dry;
  for (const SaltPortion& portion : batch.portions) {
    all = combined(all, dry.value(), portion.salt, portion.dry.value());
    dry += portion.dry;
  }
  if (dry <= Grams(0.0))
    return batch.portions.back().salt;
  return batch.salt_noted ? all : in_unknown_shares(all, batch.portions.back().salt);
}

}  // namespace

void add_portion(Batch& batch, SaltPortion portion) {
  auto& portions = batch.portions;
  const auto same = std::find_if(portions.begin(), portions.end(), [&](const SaltPortion& other) {
    return !is_rest(other) && same_lot(other.salt, portion.salt);
  });
  if (same != portions.end()) {
    portion.weighed += same->weighed;
    portion.dry += same->dry;
    portions.erase(same);
  }
  portions.push_back(std::move(portion));
  remix(batch);
}

void correct_weighed(Batch& batch, Grams total) {
  const Grams before = batch.salt;
  for (SaltPortion& portion : batch.portions) {
    const bool last = &portion == &batch.portions.back();
    if (is_rest(portion))
      continue;
    portion.weighed = before > Grams(0.0) ? portion.weighed * (total / before)
                      : last              ? total
                                          : Grams(0.0);
    portion.dry = portion.weighed * portion.product.dry_fraction;
  }
  remix(batch);
}

void remix(Batch& batch) {
  batch.salt = Grams(0.0);
  for (const SaltPortion& portion : batch.portions)
    batch.salt += portion.weighed;
  batch.product = product_of_all(batch.portions, batch.salt);
  batch.lots = lots_of(batch);
  batch.lot = name_of(batch.lots);
}

}  // namespace brinegate
