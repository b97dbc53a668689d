// SPDX-License-Identifier: Apache-2.0
// Water changes against the table of recurrences and solutions of the differential equation.
#include <algorithm>
#include <cmath>
#include <string>

#include <gtest/gtest.h>

#include "rules/chemistry/exchange.h"
#include "tests/reference/csv.h"

namespace brinegate {
namespace {

using reference::Row;
using reference::table;

Duration days(double count) {
  return from_seconds(count * 86'400.0);
}

Consumption consumption(const Row& row) {
  if (row.text("kinetics") == "none")
    return {};
  const bool first_order = row.text("kinetics") == "first";
  return {first_order ? Kinetics::Proportional : Kinetics::ConstantRate, row.number("k")};
}

ChangePlan plan(const Row& row) {
  ChangePlan result;
  if (row.has("interval_d"))
    result.interval = days(row.number("interval_d"));
  if (row.text("mode") == "discrete") {
    result.fraction = row.number("fraction");
    result.changes = static_cast<int>(row.number("n"));
  } else {
    result.mode = ExchangeMode::Continuous;
    result.fraction = row.has("fraction") ? row.number("fraction")
                                          : row.number("rate_per_d") * row.number("interval_d");
  }
  return result;
}

void expect_relative(double got, const Row& row, const std::string& column) {
  const double expected = row.number(column);
  EXPECT_NEAR(got, expected, 1e-9 * std::abs(expected)) << row.text("id") << " " << column;
}

void expect_agrees(const Row& row) {
  const CensoredValue start = measured(row.number("c0"), 0.0);
  const CensoredValue source = measured(row.number("c_source"), 0.0);
  const Consumption used = consumption(row);
  const ExchangePoint last = after_changes(start, source, used, plan(row));
  const ExchangePoint steady = steady_state(source, used, plan(row));
  expect_relative(last.after.middle(), row, "c_end");
  expect_relative(steady.before.middle(), row, "steady_before");
  expect_relative(steady.after.middle(), row, "steady_end");
  if (row.has("c_before_last"))
    expect_relative(last.before.middle(), row, "c_before_last");
  if (plan(row).changes > 0) {
    const auto points = course(start, source, used, plan(row));
    ASSERT_EQ(points.size(), static_cast<std::size_t>(plan(row).changes));
    EXPECT_EQ(points.back().before, last.before);
    EXPECT_EQ(points.back().after, last.after);
  }
}

// Of one change: how much nearer two starts come to each other.
void expect_approach(const Row& row) {
  ChangePlan one = plan(row);
  one.changes = 1;
  const double start = row.number("c0");
  const CensoredValue source = measured(row.number("c_source"), 0.0);
  const auto left_of = [&](double content) {
    return after_changes(measured(content, 0.0), source, consumption(row), one).after.middle();
  };
  const double expected = row.number("approach_factor");
  const double rounding = 1e-15 * std::max(start, source.high);
  EXPECT_NEAR(left_of(start + 1.0) - left_of(start), expected, 1e-9 * expected + 100.0 * rounding)
      << row.text("id");
}

TEST(DilutionReference, AgreesWithEveryRow) {
  const auto rows = table("dilution.csv");
  ASSERT_EQ(rows.size(), 42u);
  for (const Row& row : rows) {
    expect_agrees(row);
    expect_approach(row);
  }
}

}  // namespace
}  // namespace brinegate
