// SPDX-License-Identifier: Apache-2.0
// Conformity against tables computed by the formulas of JCGM 106:2012, and its worked examples.
#include <cmath>
#include <limits>
#include <string>

#include <gtest/gtest.h>

#include "rules/conformity.h"
#include "tests/reference/csv.h"

namespace brinegate {
namespace {

using reference::Row;
using reference::table;

constexpr double infinite = std::numeric_limits<double>::infinity();

double low(const Row& row) {
  return row.has("TL") ? row.number("TL") : -infinite;
}
double high(const Row& row) {
  return row.has("TU") ? row.number("TU") : infinite;
}
bool starts_with(const std::string& text, const std::string& start) {
  return text.compare(0, start.size(), start) == 0;
}

TEST(ConformityReference, ProbabilitiesAreThoseOfTheNormalDistribution) {
  int rows = 0;
  int published = 0;
  for (const Row& row : table("guard_band.csv")) {
    if (!starts_with(row.text("kind"), "specific_"))
      continue;
    const double y = row.number("y");
    const double u = row.number("u");
    const double conform = conformance_probability(y, u, low(row), high(row));
    const double risk = nonconformance_probability(y, u, low(row), high(row));
    const double expected_risk = row.number("p_false_accept");
    EXPECT_NEAR(conform, row.number("p_conform"), 1e-12) << row.text("id");
    EXPECT_NEAR(risk, expected_risk, 1e-12) << row.text("id");
    EXPECT_NEAR(risk, expected_risk, 1e-9 * expected_risk) << row.text("id");
    if (row.has("published")) {  // printed to two digits
      EXPECT_NEAR(conform, row.number("published"), 0.005) << row.text("source");
      ++published;
    }
    ++rows;
  }
  EXPECT_EQ(rows, 56);
  EXPECT_EQ(published, 2);
}

TEST(ConformityReference, AcceptanceLimitsAreWhereTheRiskIsTheOneAccepted) {
  int rows = 0;
  int none = 0;
  for (const Row& row : table("guard_band.csv")) {
    if (row.text("kind") != "limits_for_risk")
      continue;
    const auto limits =
        acceptance_limits(low(row), high(row), row.number("u"), row.number("target_risk"));
    ++rows;
    if (row.number("feasible") == 0.0) {
      EXPECT_FALSE(limits) << row.text("id");
      ++none;
      continue;
    }
    ASSERT_TRUE(limits) << row.text("id");
    if (row.has("AL"))
      EXPECT_NEAR(limits->first, row.number("AL"), 1e-12) << row.text("id");
    else
      EXPECT_EQ(limits->first, -infinite) << row.text("id");
    if (row.has("AU"))
      EXPECT_NEAR(limits->second, row.number("AU"), 1e-12) << row.text("id");
    else
      EXPECT_EQ(limits->second, infinite) << row.text("id");
  }
  EXPECT_EQ(rows, 50);
  EXPECT_EQ(none, 5);
}

TEST(Conformity, CertaintyIsYesOrNo) {
  EXPECT_EQ(nonconformance_probability(35.0, 0.0, 34.5, 35.5), 0.0);
  EXPECT_EQ(nonconformance_probability(35.5, 0.0, 34.5, 35.5), 0.0);
  EXPECT_EQ(nonconformance_probability(35.6, 0.0, 34.5, 35.5), 1.0);
  EXPECT_EQ(conformance_probability(34.5, 0.0, 34.5, 35.5), 1.0);
  EXPECT_EQ(conformance_probability(34.4, 0.0, 34.5, 35.5), 0.0);
  const auto limits = acceptance_limits(34.5, 35.5, 0.0, 0.01);
  ASSERT_TRUE(limits);
  EXPECT_EQ(limits->first, 34.5);
  EXPECT_EQ(limits->second, 35.5);
}

// Far outside, the probability of conforming is tiny and must not drown in rounding.
TEST(Conformity, SmallChancesKeepTheirPrecisionOnBothSides) {
  const double below = conformance_probability(33.0, 0.1, 34.5, 35.5);
  const double above = conformance_probability(37.0, 0.1, 34.5, 35.5);
  const double fifteen_sigma = 0.5 * std::erfc(15.0 / std::sqrt(2.0));
  EXPECT_NEAR(below / fifteen_sigma, 1.0, 1e-9);
  EXPECT_NEAR(above / fifteen_sigma, 1.0, 1e-9);
}

}  // namespace
}  // namespace brinegate
