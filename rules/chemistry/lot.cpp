// SPDX-License-Identifier: Apache-2.0
#include "rules/chemistry/lot.h"

#include <algorithm>
#include <array>
#include <utility>

namespace brinegate {
namespace {

std::optional<Duration> sooner(std::optional<Duration> a, std::optional<Duration> b) {
  return a && b ? std::min(a, b) : a ? a : b;
}

void add(std::vector<LotPart>& parts, LotPart part) {
  const auto same = std::find_if(parts.begin(), parts.end(), [&](const LotPart& other) {
    return other.lot == part.lot && other.version == part.version;
  });
  if (same == parts.end()) {
    parts.push_back(std::move(part));
    return;
  }
  same->share += part.share;
  same->expires_in = sooner(same->expires_in, part.expires_in);
}

// What is not known of one of them comes out the same however often it is added to itself, so the
// mean of two independent compositions would know it too well.
std::optional<Composition> mixed(const BatchSalt& a, double a_share, const BatchSalt& b,
                                 double b_share) {
  if (!a.composition || !b.composition)
    return std::nullopt;
  if (a.composition == b.composition)
    return a.composition;
  return mixture(
      std::array<SaltShare, 2>{{{&*a.composition, a_share}, {&*b.composition, b_share}}});
}

}  // namespace

BatchSalt combined(const BatchSalt& a, double a_dry_grams, const BatchSalt& b, double b_dry_grams) {
  if (b_dry_grams <= 0.0)
    return a;
  if (a_dry_grams <= 0.0)
    return b;
  const double a_share = a_dry_grams / (a_dry_grams + b_dry_grams);
  const double b_share = 1.0 - a_share;
  BatchSalt result;
  for (const auto& [salt, share] : {std::pair(&a, a_share), std::pair(&b, b_share)})
    for (LotPart part : salt->parts) {
      part.share *= share;
      add(result.parts, std::move(part));
    }
  std::stable_sort(result.parts.begin(), result.parts.end(),
                   [](const LotPart& x, const LotPart& y) { return x.share > y.share; });
  result.composition = mixed(a, a_share, b, b_share);
  return result;
}

BatchSalt salt_of(const Lot& lot, WallTime now) {
  LotPart part{lot.name, lot.version, 1.0, std::nullopt};
  if (lot.expires)
    part.expires_in = now < earliest_believed ? Duration::zero() : *lot.expires - now;
  return {{part}, composition_of(lot.assay)};
}

bool has_unnamed(const BatchSalt& salt) {
  constexpr double rounding = 1e-9;
  double named = 0.0;
  for (const LotPart& part : salt.parts)
    named += part.share;
  return named < 1.0 - rounding;
}

BatchSalt counted_from(BatchSalt salt, Duration earlier) {
  for (LotPart& part : salt.parts)
    if (part.expires_in)
      *part.expires_in += earlier;
  return salt;
}

std::string name_of(const BatchSalt& salt) {
  std::vector<std::string> names;
  for (const LotPart& part : salt.parts)
    if (std::find(names.begin(), names.end(), part.lot) == names.end())
      names.push_back(part.lot);
  std::string result;
  for (const std::string& name : names)
    result += (result.empty() ? "" : " + ") + name;
  return result;
}

}  // namespace brinegate
