// SPDX-License-Identifier: Apache-2.0
// Mass balance against the table of closed forms, each confirmed there by bisection on the balance;
// densities from the TEOS-10 toolbox.
#include <algorithm>
#include <cmath>
#include <map>
#include <stdexcept>
#include <string>

#include <gtest/gtest.h>

#include "rules/dose_witness.h"
#include "rules/mass_balance.h"
#include "tests/reference/csv.h"

namespace brinegate {
namespace {

using reference::Row;
using reference::table;

constexpr Water nothing{};

Celsius temperature(const Row& row) {
  return Celsius(row.number("t90_degC"));
}
PracticalSalinity target(const Row& row) {
  return PracticalSalinity(row.number("SP_target"));
}
SaltProduct product(const Row& row) {
  return {row.number("w")};
}
Water start(const Row& row) {
  return {Litres(row.number("V_start_L")), PracticalSalinity(row.number("SP_start"))};
}
const Litres boundless{1e6};

void expect_relative(double got, const Row& row, const std::string& column) {
  const double expected = row.number(column);
  EXPECT_NEAR(got, expected, 1e-9 * std::abs(expected)) << row.text("id") << " " << column;
}

void mix_from_water(const Row& row) {
  const auto dose =
      dose_for_water(start(row).volume, nothing, target(row), product(row), temperature(row));
  ASSERT_TRUE(dose) << dose.error().message;
  expect_relative(dose->salt.value(), row, "salt_g");
  expect_relative(dose->volume_after.value(), row, "V_end_L");
}

void mix_to_volume(const Row& row) {
  const auto dose = dose_for_volume(Litres(row.number("V_end_L")), nothing, target(row),
                                    product(row), temperature(row));
  ASSERT_TRUE(dose) << dose.error().message;
  expect_relative(dose->salt.value(), row, "salt_g");
  expect_relative(dose->water.value(), row, "water_add_L");
}

Correction correction(const Row& row, CorrectionAction action) {
  const SaltProduct salt = row.has("w") ? product(row) : SaltProduct{};
  const auto ways = corrections(start(row), target(row), boundless, salt, temperature(row));
  if (!ways)
    throw std::runtime_error(ways.error().message);
  const auto way = std::find_if(ways->begin(), ways->end(),
                                [&](const Correction& c) { return c.action == action; });
  if (way == ways->end())
    throw std::runtime_error("no such correction");
  return *way;
}

void raise_add_salt(const Row& row) {
  const Correction way = correction(row, CorrectionAction::AddSalt);
  expect_relative(way.salt.value(), row, "salt_g");
  expect_relative(way.after.volume.value(), row, "V_end_L");
  EXPECT_EQ(way.remove, Litres(0.0));
}

void lower_add_water(const Row& row) {
  const Correction way = correction(row, CorrectionAction::AddWater);
  expect_relative(way.water.value(), row, "water_add_L");
  expect_relative(way.after.volume.value(), row, "V_end_L");
}

void replace_with_fresh_water(const Row& row) {
  const Correction way = correction(row, CorrectionAction::ReplaceWithWater);
  expect_relative(way.water.value(), row, "water_add_L");
  expect_relative(way.remove.value(), row, "remove_L");
  expect_relative(way.after.volume.value(), row, "V_end_L");
}

// There is no correction with salt water; its rows check what two waters come to.
void replace_with_salt_water(const Row& row) {
  const Water kept{start(row).volume - Litres(row.number("remove_L")), start(row).salinity};
  const Water added{Litres(row.number("water_add_L")), PracticalSalinity(row.number("SP_replace"))};
  const Water after = blended(kept, added, temperature(row));
  expect_relative(after.salinity.value(), row, "SP_target");
  expect_relative(after.volume.value(), row, "V_end_L");
}

TEST(MassBalanceReference, AgreesWithEveryRowOfTheMixingTable) {
  std::map<std::string, int> used;
  for (const Row& row : table("mixing.csv")) {
    const std::string& kind = row.text("case");
    if (kind == "mix_from_water")
      mix_from_water(row);
    else if (kind == "mix_to_volume")
      mix_to_volume(row);
    else if (kind == "raise_add_salt")
      raise_add_salt(row);
    else if (kind == "lower_add_water")
      lower_add_water(row);
    else if (row.number("SP_replace") == 0.0)
      replace_with_fresh_water(row);
    else
      replace_with_salt_water(row);
    ++used[kind];
  }
  const std::map<std::string, int> all{{"mix_from_water", 15},
                                       {"mix_to_volume", 8},
                                       {"raise_add_salt", 10},
                                       {"lower_add_water", 8},
                                       {"replace_fixed_volume", 12}};
  EXPECT_EQ(used, all);
}

// The witness of a batch mixed as in the table predicts the table's salinity, by its level and,
// from fresh water, by the litres noted as well.
TEST(DoseWitnessReference, PredictsWhatTheMixingTableMixes) {
  StationSpec with_level;
  with_level.probes.emplace_back().measures = Measures::Level;
  int used = 0;
  for (const Row& row : table("mixing.csv")) {
    const bool from_water = row.text("case") == "mix_from_water";
    if (!from_water && row.text("case") != "mix_to_volume")
      continue;
    ++used;
    Batch batch;
    batch.phase = BatchPhase::Mixing;
    batch.salt_noted = true;
    batch.salt = Grams(row.number("salt_g"));
    batch.product = product(row);
    batch.dry_salt = batch.salt * batch.product.dry_fraction;
    batch.water_noted = from_water ? start(row).volume : Litres(row.number("water_add_L"));
    const Litres level(row.number("V_end_L"));
    for (const auto& dose : {dose_witness(batch, level, temperature(row), with_level),
                             dose_witness(batch, std::nullopt, temperature(row), StationSpec{})}) {
      ASSERT_TRUE(dose) << row.text("id");
      EXPECT_NEAR(dose->predicted.value.value(), target(row).value(), 1e-7) << row.text("id");
      EXPECT_NEAR(dose->volume.litres.value.value(), level.value(), 1e-7) << row.text("id");
    }
  }
  EXPECT_EQ(used, 23);
}

}  // namespace
}  // namespace brinegate
