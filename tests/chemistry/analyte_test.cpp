// SPDX-License-Identifier: Apache-2.0
#include "rules/chemistry/analyte.h"

#include <set>

#include <gtest/gtest.h>

#include "rules/chemistry/assay.h"

namespace brinegate {
namespace {

constexpr PracticalSalinity sea{35.0};
constexpr Celsius warm{25.0};

TEST(Analytes, EveryRowIsFoundByItsAnalyteAndIsComplete) {
  std::set<std::string_view> symbols;
  for (const AnalyteRow& row : analytes()) {
    EXPECT_EQ(&analyte_row(row.analyte), &row);
    EXPECT_TRUE(symbols.insert(row.symbol).second) << row.symbol;
    EXPECT_FALSE(row.english.empty() || row.german.empty()) << row.symbol;
    EXPECT_GT(row.molar_mass, 0.0) << row.symbol;
  }
}

TEST(Analytes, WhatIsGivenHasASource) {
  for (const AnalyteRow& row : analytes()) {
    EXPECT_EQ(row.natural.has_value(), !row.natural_source.empty()) << row.symbol;
    EXPECT_EQ(row.wanted.has_value(), !row.wanted_source.empty()) << row.symbol;
  }
}

TEST(Analytes, UsuallyWantedIsAroundNaturalSeaWaterOrALimit) {
  for (const AnalyteRow& row : analytes())
    if (row.wanted) {
      EXPECT_LT(row.wanted->low, row.wanted->high) << row.symbol;
      EXPECT_LT(row.wanted->low, *row.natural * 1.1) << row.symbol;  // keepers like alkalinity high
      EXPECT_GT(row.wanted->high, *row.natural) << row.symbol;
    }
}

TEST(Analytes, UsuallyWantedIsWhatKeepersWritePerLitre) {
  const auto wanted = analyte_row(Analyte::Calcium).wanted;
  EXPECT_NEAR(per_litre_of_content(wanted->low, sea, warm), 400.0, 1e-9);
  EXPECT_NEAR(per_litre_of_content(wanted->high, sea, warm), 450.0, 1e-9);
  const auto alkalinity = analyte_row(Analyte::Alkalinity).wanted;
  EXPECT_NEAR(per_litre_of_content(alkalinity->low, sea, warm), 7.0 / 2.80385, 1e-6);
}

TEST(Analytes, OnlyTheMajorIonsCarryACharge) {
  for (const AnalyteRow& row : analytes())
    EXPECT_EQ(row.charge != 0, row.group == AnalyteGroup::MajorIon && row.analyte != Analyte::Boron)
        << row.symbol;
}

}  // namespace
}  // namespace brinegate
