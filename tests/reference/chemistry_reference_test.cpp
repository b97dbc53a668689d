// SPDX-License-Identifier: Apache-2.0
// The catalogue of analytes, contents as they are written and the sums of an analysis against the
// Reference Composition of sea water (Millero et al. 2008, table 4), published mean contents of
// the ocean and the definitions of units; each row of the tables names its source.
#include <algorithm>
#include <cmath>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include <fmt/format.h>
#include <gtest/gtest.h>

#include "config/chemistry/content_words.h"
#include "rules/chemistry/assay_sanity.h"
#include "rules/seawater.h"
#include "tests/reference/csv.h"

namespace brinegate {
namespace {

using reference::Row;
using reference::table;

// "A row was recalled and not found in a source": never an oracle.
bool is_recalled(const Row& row) {
  return row.text("verified") == "memory";
}

double read(double value, const std::string& unit, Analyte analyte) {
  const auto content = config::parse_content(fmt::format("{} {}", value, unit), {analyte, 1.0}, {});
  if (!content)
    throw std::runtime_error(content.error().message);
  return content->content.middle();
}
double read(const Row& row, Analyte analyte) {
  return read(row.number("value"), row.text("unit"), analyte);
}

void expect_same(double ours, double theirs, double relative, const std::string& of) {
  EXPECT_NEAR(ours, theirs, relative * std::abs(theirs)) << of;
}

// Of table 4: what is an element's only form, and what was added up over forms.
std::optional<Analyte> analyte_of_major(const Row& row) {
  static const std::map<std::string, Analyte> by_species{
      {"Na+", Analyte::Sodium},
      {"Mg2+", Analyte::Magnesium},
      {"Ca2+", Analyte::Calcium},
      {"K+", Analyte::Potassium},
      {"Sr2+", Analyte::Strontium},
      {"Cl-", Analyte::Chlorine},
      {"Br-", Analyte::Bromine},
      {"F-", Analyte::Fluorine},
      {"sulfate as S", Analyte::Sulfur},
      {"total boron as B", Analyte::Boron},
      {"HCO3 + 2 CO3 + B(OH)4 + OH", Analyte::Alkalinity}};
  const auto found = by_species.find(row.text("species"));
  return found == by_species.end() ? std::nullopt : std::optional(found->second);
}

Analyte analyte_of_trace(const Row& row) {
  for (const AnalyteRow& analyte : analytes())
    if (analyte.symbol == row.text("element"))
      return analyte.analyte;
  throw std::runtime_error("no analyte " + row.text("element"));
}

bool is_trace(const Row& row) {
  return row.text("kind") == "trace";
}

// 8 ions and the 3 sums; left out are the forms of sulfate, carbonate and borate, water's own ion
// and inorganic carbon, which no analysis names so.
TEST(ReferenceComposition, MajorIonsAreThoseOfTheCatalogue) {
  int used = 0;
  int left_out = 0;
  for (const Row& row : table("reference_composition.csv")) {
    if (is_trace(row))
      continue;
    const auto analyte = analyte_of_major(row);
    if (!analyte) {
      ++left_out;
      continue;
    }
    const AnalyteRow& ours = analyte_row(*analyte);
    const std::string of(ours.symbol);
    if (*analyte == Analyte::Alkalinity)
      expect_same(*ours.natural, 1e-3 * row.number("value"), 1e-12, of);
    else
      expect_same(*ours.natural, read(row, *analyte), 1e-12, of);
    if (row.has("value_mg_L"))
      expect_same(read(row.number("value_mg_L"), "mg/L", *analyte), *ours.natural, 1e-9, of);
    // The table has the atomic weights of 2005, and its mg/kg are rounded to 0.01.
    const double amount = 1e-3 * row.number("value_umol_kg");
    EXPECT_NEAR(*ours.natural / ours.molar_mass, amount, 2e-4 * amount + 0.005 / ours.molar_mass)
        << of;
    ++used;
  }
  EXPECT_EQ(used, 11);
  EXPECT_EQ(left_out, 8);
}

TEST(ReferenceComposition, AllItsSpeciesAddUpToTheSumsOfAnAnalysis) {
  double mass = 0.0;  // mg/kg
  int species = 0;
  Assay assay;
  assay.salinity = PracticalSalinity(35.0);
  for (const Row& row : table("reference_composition.csv")) {
    if (row.text("kind") == "major") {
      mass += row.number("value");
      ++species;
    }
    if (const auto analyte = is_trace(row) ? std::nullopt : analyte_of_major(row))
      assay.values[*analyte].content = measured(
          *analyte == Analyte::Alkalinity ? 1e-3 * row.number("value") : row.number("value"), 0.0);
  }
  EXPECT_EQ(species, 15);
  const AssaySanity sanity = assay_sanity(assay);
  expect_same(1000.0 * sanity.implied_salinity->value(), mass, 2e-5, "mass");
  expect_same(sanity.implied_salinity->value(), 35.16504, 2e-5, "reference salinity");
  EXPECT_NEAR(*sanity.charge_balance, 0.0, 1e-4);
  EXPECT_TRUE(sanity.findings.empty());
}

TEST(ReferenceComposition, MeanContentsOfTheOceanAreThoseOfTheCatalogue) {
  int natural = 0;
  int others = 0;
  int recalled = 0;
  for (const Row& row : table("reference_composition.csv")) {
    if (!is_trace(row))
      continue;
    if (is_recalled(row)) {
      ++recalled;
      continue;
    }
    const AnalyteRow& ours = analyte_row(analyte_of_trace(row));
    const std::string of = fmt::format("{}, {}", ours.symbol, row.text("source"));
    const double content = read(row, ours.analyte);
    expect_same(read(row.number("value_mg_L"), "mg/L", ours.analyte), content, 1e-9, of);
    expect_same(read(row.number("value_umol_kg"), "umol/kg", ours.analyte), content, 1e-9, of);
    if (row.text("rank") == "1") {
      expect_same(*ours.natural, content, 1e-9, of);
      EXPECT_EQ(ours.natural_source.substr(0, 5), row.text("source").substr(0, 5)) << of;
      ++natural;
    } else {
      // Another author's mean: of mercury a fifteenth, of none a hundredth.
      EXPECT_LT(std::abs(std::log(content / *ours.natural)), std::log(20.0)) << of;
      ++others;
    }
  }
  EXPECT_EQ(natural, 28);
  EXPECT_EQ(others, 48);
  EXPECT_EQ(recalled, 13);
}

TEST(ReferenceComposition, WhatTheTableDoesNotHaveHasNoNaturalContent) {
  const auto given = std::count_if(analytes().begin(), analytes().end(),
                                   [](const AnalyteRow& row) { return row.natural.has_value(); });
  EXPECT_EQ(given, 11 + 28);
}

// How a unit of the table is written for us. "ppm" is refused, as it is either of two; nobody
// states alkalinity as bicarbonate or in rounded units.
const std::map<std::string, std::string> written{
    {"dKH", "dKH"},       {"meq/L", "meq/L"}, {"mg/L CaCO3", "mg/L CaCO3"},
    {"ueq/kg", "ueq/kg"}, {"mg/L", "mg/L"},   {"ug/L", "ug/L"},
    {"ng/L", "ng/L"},     {"mg/kg", "mg/kg"}};

// The rest of the table is held against config/quantity.h in tests/config/quantity_test.cpp.
TEST(Units, AlkalinityAndConcentrationAgreeWithEveryRowThatCanBeWritten) {
  std::map<std::string, int> used;
  std::map<std::string, int> left_out;
  for (const Row& row : table("units.csv")) {
    const std::string& quantity = row.text("quantity");
    if (quantity != "alkalinity" && quantity != "concentration")
      continue;
    const auto from = written.find(row.text("from_unit"));
    const auto to = written.find(row.text("to_unit"));
    if (is_recalled(row) || from == written.end() || to == written.end()) {
      ++left_out[quantity];
      continue;
    }
    const Analyte analyte = quantity == "alkalinity" ? Analyte::Alkalinity : Analyte::Calcium;
    expect_same(read(7.0, from->second, analyte),
                read(7.0 * row.number("factor") + row.number("offset"), to->second, analyte), 1e-9,
                from->second + " to " + to->second);
    ++used[quantity];
  }
  EXPECT_EQ(used, (std::map<std::string, int>{{"alkalinity", 7}, {"concentration", 5}}));
  EXPECT_EQ(left_out, (std::map<std::string, int>{{"alkalinity", 3}, {"concentration", 1}}));
}

// Here by the temperature, which grams per litre do not carry where people write them.
TEST(Units, GramsPerLitreAgreeWithTheRowsOfBothTemperatures) {
  int used = 0;
  for (const Row& row : table("units.csv")) {
    if (row.text("quantity") != "salinity" || row.text("to_unit") != "g/L")
      continue;
    const bool cool = row.text("condition").find("20 degC") != std::string::npos;
    const bool practical = row.text("from_unit") == "SP (PSU)";
    expect_same(salt_grams_per_litre(PracticalSalinity(35.0), Celsius(cool ? 20.0 : 25.0)),
                row.number("factor") * (practical ? 35.0 : 35.16504), 1e-9, row.text("condition"));
    ++used;
  }
  EXPECT_EQ(used, 3);
}

}  // namespace
}  // namespace brinegate
