// SPDX-License-Identifier: Apache-2.0
#include "rules/chemistry/assay_sanity.h"

#include <array>
#include <cmath>
#include <limits>

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include "rules/seawater.h"
#include "tests/uniform.h"

namespace brinegate {
namespace {

using enum Analyte;
using Kind = AssayFindingKind;

constexpr std::array majors = {Alkalinity, Sodium, Magnesium, Calcium, Potassium, Strontium,
                               Chlorine,   Sulfur, Bromine,   Boron,   Fluorine};

double& content(Assay& assay, Analyte analyte) {
  // Both ends are kept alike by settle().
  return assay.values[analyte].content.low;
}

Assay settled(Assay assay) {
  for (auto& [analyte, value] : assay.values)
    value.content = measured(value.content.low, 0.03 * value.content.low);
  return assay;
}

Assay sea_water(PracticalSalinity salinity = PracticalSalinity(35.0)) {
  Assay assay;
  assay.salinity = salinity;
  for (const AnalyteRow& row : analytes())
    if (row.natural)
      content(assay, row.analyte) = *row.natural * (salinity / composition_salinity);
  return settled(assay);
}

Assay with(Assay assay, Analyte analyte, double factor) {
  content(assay, analyte) *= factor;
  return settled(assay);
}

Assay without(Assay assay, Analyte analyte) {
  assay.values.erase(analyte);
  return assay;
}

// Sodium and chloride such that the charges balance and the ions are as much as before.
void balance(Assay& assay) {
  const AssaySanity now = assay_sanity(settled(assay));
  const double salt = 1000.0 * reference_salinity(assay.salinity).value();  // mg/kg
  const double lacking_mass = salt - 1000.0 * now.implied_salinity->value();
  const double lacking_charge = *now.anions - *now.cations;  // mmol/kg
  const double sodium = analyte_row(Sodium).molar_mass;
  const double chlorine = analyte_row(Chlorine).molar_mass;
  const double more_chlorine = (lacking_mass - lacking_charge * sodium) / (sodium + chlorine);
  content(assay, Sodium) += (lacking_charge + more_chlorine) * sodium;
  content(assay, Chlorine) += more_chlorine * chlorine;
}

// A mix as one may be sold, as a laboratory may see it.
Assay plausible_salt() {
  Assay assay = sea_water(PracticalSalinity(uniform(15.0, 41.0)));
  for (auto& [analyte, value] : assay.values)
    value.content.low *= analyte_row(analyte).group == AnalyteGroup::MajorIon
                             ? uniform(0.85, 1.15)
                             : std::pow(10.0, uniform(-1.0, 1.0));
  balance(assay);
  for (auto& [analyte, value] : assay.values)
    value.content.low *= uniform(0.98, 1.02);
  return settled(assay);
}

Analyte some_major() {
  return majors[*rc::gen::inRange<std::size_t>(0, majors.size())];
}

std::string told(const AssaySanity& sanity) {
  std::string text;
  for (const AssayFinding& finding : sanity.findings)
    text += std::to_string(static_cast<int>(finding.kind)) + " " +
            std::string(finding.analyte ? analyte_row(*finding.analyte).symbol : "-") + " " +
            std::to_string(finding.measured) + " " + std::to_string(finding.needed) + "; ";
  return text;
}

::testing::AssertionResult only(const AssaySanity& sanity, Kind kind, Analyte analyte) {
  if (sanity.findings.size() == 1 && sanity.findings[0].kind == kind &&
      sanity.findings[0].analyte == analyte)
    return ::testing::AssertionSuccess();
  return ::testing::AssertionFailure() << told(sanity);
}

TEST(AssaySanity, SeaWaterBalancesAndComesToItsSalinity) {
  for (const double salinity : {5.0, 35.0, 40.0}) {
    const AssaySanity sanity = assay_sanity(sea_water(PracticalSalinity(salinity)));
    EXPECT_NEAR(*sanity.charge_balance, 0.0, 1e-4);
    // Millero et al. 2008: 35.16504 g/kg at SP 35.
    EXPECT_NEAR(sanity.implied_salinity->value() * 35.0 / salinity, 35.16504, 2e-5 * 35.16504);
    EXPECT_NEAR(*sanity.cations * 35.0 / salinity, 605.5, 0.3);
    EXPECT_TRUE(sanity.findings.empty()) << told(sanity);
  }
}

TEST(AssaySanity, WithoutChlorineItIsInferredAndTheBalanceSaysNothing) {
  const AssaySanity sanity = assay_sanity(without(sea_water(), Chlorine));
  EXPECT_NEAR(*sanity.inferred_chlorine, 19352.71, 0.001 * 19352.71);
  EXPECT_NEAR(sanity.implied_salinity->value(), 35.16504, 0.001 * 35.16504);
  EXPECT_FALSE(sanity.charge_balance);
}

TEST(AssaySanity, MinorIonsThatWereNotAnalysedCountAsInSeaWater) {
  Assay assay = sea_water();
  for (const Analyte analyte : {Alkalinity, Strontium, Bromine, Boron, Fluorine})
    assay.values.erase(analyte);
  EXPECT_DOUBLE_EQ(assay_sanity(assay).implied_salinity->value(),
                   assay_sanity(sea_water()).implied_salinity->value());
}

TEST(AssaySanity, WithoutAMainIonNothingIsSaidOfTheSums) {
  for (const Analyte analyte : {Sodium, Magnesium, Calcium, Potassium, Sulfur}) {
    const AssaySanity sanity = assay_sanity(without(sea_water(), analyte));
    EXPECT_FALSE(sanity.charge_balance || sanity.implied_salinity || sanity.cations);
    EXPECT_TRUE(sanity.findings.empty()) << told(sanity);
  }
}

TEST(AssaySanity, ChargesThatDoNotBalanceAreFound) {
  // 15 % less chloride: 82 of 1211 mmol/kg.
  const AssaySanity sanity = assay_sanity(with(sea_water(), Chlorine, 0.85));
  ASSERT_FALSE(sanity.findings.empty());
  EXPECT_NEAR(*sanity.charge_balance, 82.0 / (1211.0 - 82.0), 1e-3);
  EXPECT_EQ(sanity.findings.back().kind, Kind::ChargesDoNotBalance) << told(sanity);
  EXPECT_EQ(sanity.findings.back().needed, 0.05);
}

TEST(AssaySanity, AnAnalysisAtAnotherSalinityThanStatedIsFound) {
  Assay assay = sea_water(PracticalSalinity(31.0));
  assay.salinity = PracticalSalinity(35.0);
  const AssaySanity sanity = assay_sanity(assay);
  ASSERT_EQ(sanity.findings.size(), 1u) << told(sanity);
  EXPECT_EQ(sanity.findings[0].kind, Kind::SalinityDoesNotFit);
  EXPECT_NEAR(sanity.findings[0].measured, 31.147, 0.03);
  EXPECT_NEAR(sanity.findings[0].needed, 35.165, 0.001);
}

TEST(AssaySanity, AnionsBeyondAllCationsDoNotBalanceEvenWithoutChlorine) {
  Assay assay = sea_water();
  content(assay, Sulfur) = 11000.0;
  const AssaySanity sanity = assay_sanity(without(settled(assay), Chlorine));
  EXPECT_EQ(sanity.inferred_chlorine, 0.0);
  EXPECT_LT(*sanity.charge_balance, -0.05);
}

TEST(AssaySanity, MoreIonsThanSaltAreImpossibleAlsoWhereSomeWereNotAnalysed) {
  const AssaySanity sanity =
      assay_sanity(without(with(with(sea_water(), Sodium, 1.3), Chlorine, 1.3), Magnesium));
  ASSERT_EQ(sanity.findings.size(), 1u) << told(sanity);
  EXPECT_EQ(sanity.findings[0].kind, Kind::Impossible);
  EXPECT_FALSE(sanity.findings[0].analyte);
}

TEST(AssaySanity, WhatIsNoContentOrMoreThanAllSaltIsImpossible) {
  for (const double value : {-1.0, std::numeric_limits<double>::infinity(), 60'000.0}) {
    Assay assay = sea_water();
    assay.values[Calcium].content = measured(value, 0.0);
    EXPECT_TRUE(only(assay_sanity(assay), Kind::Impossible, Calcium)) << value;
  }
}

TEST(AssaySanity, AValueFarFromSeaWaterThatNoSlipExplainsIsFound) {
  EXPECT_TRUE(
      only(assay_sanity(with(sea_water(), Potassium, 5.0)), Kind::FarFromSeaWater, Potassium));
  EXPECT_TRUE(
      only(assay_sanity(with(sea_water(), Potassium, 0.0)), Kind::FarFromSeaWater, Potassium));
}

TEST(AssaySanity, WhatASaltMixMayLeaveOutIsNotMissed) {
  for (const Analyte analyte : {Strontium, Bromine, Boron, Fluorine, Lithium, Rubidium, Iodine})
    EXPECT_TRUE(assay_sanity(with(sea_water(), analyte, 0.02)).findings.empty());
}

TEST(AssaySanity, WhatWasNotFoundIsNoSlip) {
  Assay assay = sea_water();
  assay.values[Zinc].content = below(2.0);
  assay.values[Iodine].content = below(0.0001);
  assay.values[Alkalinity].content = below(5.0);
  EXPECT_TRUE(assay_sanity(assay).findings.empty());
}

TEST(AssaySanity, HighAlkalinityIsNotTakenForDegrees) {
  // 5.1 mmol/kg are 14.6 degrees.
  EXPECT_TRUE(assay_sanity(with(sea_water(), Alkalinity, 2.2)).findings.empty());
}

// Salt mixes have of some metals hundreds of times what the ocean has, and copper treats fish.
TEST(AssaySanity, TracesAsTanksHaveThemAreNoSlip) {
  Assay assay = sea_water();
  for (const Analyte metal : {Aluminium, Zinc, Copper, Iron, Tin, Lead, Titanium, Zirconium})
    content(assay, metal) = 0.25;
  content(assay, Nitrogen) = 20.0;
  const AssaySanity sanity = assay_sanity(settled(assay));
  EXPECT_TRUE(sanity.findings.empty()) << told(sanity);
}

TEST(AssaySanity, MicrogramsOfATraceGivenAsMilligramsAreASlip) {
  Assay assay = sea_water();
  content(assay, Zinc) = 4.0;
  EXPECT_TRUE(only(assay_sanity(settled(assay)), Kind::UnitSlip, Zinc));
  EXPECT_EQ(assay_sanity(settled(assay)).findings[0].factor, 1e-3);
}

TEST(AssaySanity, MilligramsOfATraceGivenAsMicrogramsAreASlip) {
  const AssaySanity sanity = assay_sanity(with(sea_water(), Lithium, 1e-3));
  EXPECT_TRUE(only(sanity, Kind::UnitSlip, Lithium));
  EXPECT_EQ(sanity.findings[0].factor, 1e3);
}

struct GivenAs {
  Analyte analyte;
  double factor;
};
TEST(AssaySanity, ACommonOtherFormIsFoundWithItsFactor) {
  // Molar masses: IUPAC abridged 2021; degrees of hardness and CaCO3:
  // tests/reference/data/units.csv.
  for (const auto& [analyte, factor] : {GivenAs{Sulfur, 2.9961},       // sulfate
                                        GivenAs{Sulfur, 0.33377},      // sulfur named sulfate
                                        GivenAs{Sodium, 2.5420},       // common salt
                                        GivenAs{Calcium, 2.4973},      // as CaCO3
                                        GivenAs{Magnesium, 4.1179},    // as CaCO3
                                        GivenAs{Alkalinity, 2.80385},  // degrees for meq/L
                                        GivenAs{Alkalinity, 50.043}}) {
    const AssaySanity sanity = assay_sanity(with(sea_water(), analyte, factor));
    ASSERT_TRUE(only(sanity, Kind::ProbablyAnotherForm, analyte)) << factor;
    EXPECT_NEAR(sanity.findings[0].factor * factor, 1.0, 1e-3);
    EXPECT_NEAR(sanity.findings[0].needed, *analyte_row(analyte).natural, 1e-6);
  }
}

RC_GTEST_PROP(AssaySanity, APlausibleSaltHasNoFinding, ()) {
  const AssaySanity sanity = assay_sanity(plausible_salt());
  RC_LOG(told(sanity));
  RC_ASSERT(sanity.findings.empty());
}

RC_GTEST_PROP(AssaySanity, ASlipOfAThousandIsFoundWhereItWasMade, ()) {
  const Analyte analyte = some_major();
  const double slip = *rc::gen::element(1e-6, 1e-3, 1e3, 1e6);
  const AssaySanity sanity = assay_sanity(with(plausible_salt(), analyte, slip));
  RC_LOG(told(sanity));
  RC_ASSERT(only(sanity, Kind::UnitSlip, analyte));
  RC_ASSERT(std::abs(sanity.findings[0].factor * slip - 1.0) < 1e-9);
}

RC_GTEST_PROP(AssaySanity, TwoValuesInEachOthersPlaceAreFound, ()) {
  const Analyte one = some_major();
  const Analyte other = some_major();
  const double ratio = *analyte_row(one).natural / *analyte_row(other).natural;
  // Such as could not both be as they were found: boron, bromine and the like vary more.
  const bool main_ions = *analyte_row(one).natural > 300.0 && *analyte_row(other).natural > 300.0;
  RC_PRE(std::abs(std::log(ratio)) > std::log(main_ions ? 1.7 : 3.2));
  Assay assay = plausible_salt();
  std::swap(content(assay, one), content(assay, other));
  const AssaySanity sanity = assay_sanity(settled(assay));
  RC_LOG(told(sanity));
  RC_ASSERT(only(sanity, Kind::BelongsToAnother, std::min(one, other)));
  RC_ASSERT(sanity.findings[0].other == std::max(one, other));
}

RC_GTEST_PROP(AssaySanity, SulfateForSulfurAndSulfurForSulfateAreFound, ()) {
  const double form = *rc::gen::element(96.06 / 32.06, 32.06 / 96.06);
  const AssaySanity sanity = assay_sanity(with(plausible_salt(), Sulfur, form));
  RC_LOG(told(sanity));
  RC_ASSERT(only(sanity, Kind::ProbablyAnotherForm, Sulfur));
}

RC_GTEST_PROP(AssaySanity, SpoiledChloridePutsItOutOfBalance, ()) {
  const double change = *rc::gen::element(0.80, 1.20);
  const AssaySanity sanity = assay_sanity(with(plausible_salt(), Chlorine, change));
  RC_LOG(told(sanity));
  RC_ASSERT(std::any_of(sanity.findings.begin(), sanity.findings.end(), [](const auto& finding) {
    return finding.kind == Kind::ChargesDoNotBalance;
  }));
  for (const AssayFinding& finding : sanity.findings)
    RC_ASSERT(!finding.analyte);
}

}  // namespace
}  // namespace brinegate
