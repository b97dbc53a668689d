// SPDX-License-Identifier: Apache-2.0
// Names and contents as people write them, in English and German. Factors of units:
// tests/reference/data/units.csv, each with its source.
#include "config/chemistry/content_words.h"

#include <cmath>
#include <string>

#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "rules/seawater.h"

namespace brinegate::config {
namespace {

using testing::HasSubstr;
using enum Analyte;

constexpr WaterOfSample water{PracticalSalinity(35.0), Celsius(25.0)};
constexpr double litre = 1.0233436313880606;  // kg of this water (units.csv, TEOS-10)
constexpr double sulfur_in_sulfate = 32.06 / 96.056;
constexpr double nitrogen_in_nitrate = 14.007 / 62.004;

double content(std::string_view text, std::string_view of = "Ca", WaterOfSample in = water) {
  const auto named = analyte_named(of);
  if (!named)
    throw std::runtime_error(unknown_analyte(of).message);
  const auto value = parse_content(text, *named, in);
  if (!value)
    throw std::runtime_error(value.error().message);
  EXPECT_FALSE(value->content.censored()) << text;
  return value->content.low;
}
std::string refusal(const WrittenContent& written, std::string_view of = "Ca") {
  const auto value = parse_content(written, *analyte_named(of), water);
  return value ? fmt::format("not refused: {}", value->content.high) : value.error().message;
}
std::string refusal(std::string_view text, std::string_view of = "Ca") {
  return refusal(WrittenContent{text, {}, {}, {}}, of);
}

TEST(AnalyteName, OfTheCatalogueIsKnownBySymbolEnglishAndGerman) {
  for (const AnalyteRow& row : analytes())
    for (const std::string_view name : {row.symbol, row.english, row.german}) {
      const auto named = analyte_named(name);
      ASSERT_TRUE(named) << name;
      EXPECT_EQ(named->analyte, row.analyte) << name;
      EXPECT_EQ(named->factor, 1.0) << name;
    }
}

TEST(AnalyteName, IsFreeInLettersAccentsAndWhatElsePeopleSay) {
  for (const char* name : {"alkalinity", "ALKALINITY", "Total Alkalinity", "Alkalinität",
                           "alkalinitat", "Alkalinitaet", "KH", "kh", "Karbonathärte",
                           "Karbonathaerte", "Säurekapazität", "Alk", "Alkalinita\u0308t"}) {
    ASSERT_TRUE(analyte_named(name)) << name;
    EXPECT_EQ(analyte_named(name)->analyte, Alkalinity) << name;
  }
  for (const char* name :
       {"Ca", "ca", "CA", "calcium", "Kalzium", "CALCIUM", " Calcium ", "Ca2+", "Ca²⁺", "Ca 2+",
        "Ca++", "Calcium (Ca)", "Ca (calcium)", "Calcium [Ca]"}) {
    ASSERT_TRUE(analyte_named(name)) << name;
    EXPECT_EQ(analyte_named(name)->analyte, Calcium) << name;
  }
  EXPECT_EQ(analyte_named("Kalium")->analyte, Potassium);
  EXPECT_EQ(analyte_named("Natrium")->analyte, Sodium);
  EXPECT_EQ(analyte_named("Jod")->analyte, Iodine);
  EXPECT_EQ(analyte_named("Chlorid")->analyte, Chlorine);
  EXPECT_EQ(analyte_named("Cl-")->analyte, Chlorine);
  EXPECT_EQ(analyte_named("Co")->analyte, Cobalt);
}

TEST(AnalyteName, SaysInWhichFormItIsCounted) {
  for (const char* name : {"SO4", "so4", "SO₄", "SO4 2-", "SO42-", "SO₄²⁻", "sulfate", "Sulphate",
                           "Sulfat", "sulfur as SO4", "Schwefel (als SO4)", "Sulfat (SO4)"}) {
    ASSERT_TRUE(analyte_named(name)) << name;
    EXPECT_EQ(analyte_named(name)->analyte, Sulfur) << name;
    EXPECT_DOUBLE_EQ(analyte_named(name)->factor, sulfur_in_sulfate) << name;
  }
  for (const char* name : {"nitrate", "Nitrat", "NO3", "NO3-", "NO₃⁻"})
    EXPECT_DOUBLE_EQ(analyte_named(name)->factor, nitrogen_in_nitrate) << name;
  for (const char* name : {"NO3-N", "nitrate as N", "Nitrat als N", "Nitrat-N", "Nitrate (NO3-N)",
                           "nitrate (as N)", "SO4-S", "PO4-P", "phosphate as P"}) {
    ASSERT_TRUE(analyte_named(name)) << name;
    EXPECT_EQ(analyte_named(name)->factor, 1.0) << name;
  }
  EXPECT_DOUBLE_EQ(analyte_named("PO4")->factor, 30.974 / 94.970);
  EXPECT_DOUBLE_EQ(analyte_named("SiO2")->factor, 28.085 / 60.083);
  EXPECT_DOUBLE_EQ(analyte_named("H3BO3")->factor, 10.81 / 61.831);
}

TEST(AnalyteName, ThatLeavesSomethingOpenIsNotGuessed) {
  for (const char* name : {"CO", "SC", "n", "k", "p", "cA", "", "-", "+", "()", "Sulfate (S)",
                           "Calcium (Mg)", "Ca-K", "Ca as Mg", "Salinity", "CO2", "Calzium"})
    EXPECT_FALSE(analyte_named(name)) << name;
  EXPECT_THAT(open_name("CO")->message, HasSubstr("write 'Co' for cobalt"));
  EXPECT_THAT(open_name("Sulfate (S)")->message, HasSubstr("in which form"));
  EXPECT_FALSE(open_name("Calzium"));
  EXPECT_FALSE(open_name("Ca"));
}

TEST(AnalyteName, ThatIsUnknownIsAnsweredWithTheNearest) {
  EXPECT_THAT(unknown_analyte("Calzium").message, HasSubstr("did you mean 'Calcium'?"));
  EXPECT_THAT(unknown_analyte("Magnesum").message, HasSubstr("did you mean 'Magnesium'?"));
  EXPECT_THAT(unknown_analyte("k").message, HasSubstr("did you mean 'K'?"));
  EXPECT_THAT(unknown_analyte("CO").message, HasSubstr("cobalt"));
  EXPECT_THAT(unknown_analyte("Nitrite").message, HasSubstr("is not kept here: leave it out"));
  EXPECT_THAT(unknown_analyte("unicorn").message, HasSubstr("an element's name or symbol"));
}

TEST(Content, ComesFromEveryUnit) {
  const double milligram_per_litre = 1.0 / litre;
  for (const char* text : {"421 mg/L", "421 mg/l", "421mg/L", "421,0 mg/L", "0.421 g/L",
                           "421000 ug/L", "421000 µg/l", "421000 μg/L", "421000 mcg/L",
                           "421e6 ng/L", "421 mg / L", "421 mg L-1", "421 mg·L⁻¹", "4.21e2 mg/L"})
    EXPECT_NEAR(content(text), 421.0 * milligram_per_litre, 1e-9) << text;
  EXPECT_NEAR(content("421 mg/kg"), 421.0, 1e-9);
  EXPECT_NEAR(content("0.421 g/kg"), 421.0, 1e-9);
  EXPECT_NEAR(content("10 mmol/kg"), 400.78, 1e-9);
  EXPECT_NEAR(content("10000 umol/kg"), 400.78, 1e-9);
  EXPECT_NEAR(content("10 mmol/L"), 400.78 * milligram_per_litre, 1e-9);
  EXPECT_NEAR(content("1,300.5 mg/L"), 1300.5 * milligram_per_litre, 1e-9);
  EXPECT_NEAR(content("1.300,5 mg/L"), 1300.5 * milligram_per_litre, 1e-9);
}

TEST(Content, OfAlkalinityComesFromItsUnits) {
  const double one = 1.0 / litre;
  for (const char* text : {"8.1 dKH", "8,1 dkh", "8.1 °dKH", "8,1 °dH", "8.1 °KH"})
    EXPECT_NEAR(content(text, "KH"), 8.1 * 0.3566524600103429 * one, 1e-12) << text;
  for (const char* text : {"2.5 meq/L", "2.5 mmol/L", "2.5 mval/l", "2500 umol/L", "2500 µeq/L"})
    EXPECT_NEAR(content(text, "KH"), 2.5 * one, 1e-12) << text;
  EXPECT_NEAR(content("2300 ueq/kg", "KH"), 2.3, 1e-12);
  EXPECT_NEAR(content("2300 umol/kg", "KH"), 2.3, 1e-12);
  for (const char* text : {"100.086 mg/L CaCO3", "100.086 mg/L as CaCO3", "100.086 mg CaCO3/L",
                           "100.086 mg/L (CaCO₃)", "100.086 mg/l als CaCO3"})
    EXPECT_NEAR(content(text, "alkalinity"), 2.0 * one, 1e-12) << text;
}

TEST(Content, IsThatOfTheElementWhateverFormWasCounted) {
  const double one = 1.0 / litre;
  EXPECT_NEAR(content("2700 mg/L", "SO4"), 2700.0 * sulfur_in_sulfate * one, 1e-9);
  EXPECT_NEAR(content("2700 mg/L SO4", "sulfur"), 2700.0 * sulfur_in_sulfate * one, 1e-9);
  EXPECT_NEAR(content("900 mg/L as S", "sulfate"), 900.0 * one, 1e-9);
  EXPECT_NEAR(content("5 mg NO3/L", "nitrate"), 5.0 * nitrogen_in_nitrate * one, 1e-12);
  EXPECT_NEAR(content("28 mmol/kg", "SO4"), 28.0 * 32.06, 1e-9);
  EXPECT_THAT(refusal("5 mg/L NO3", "Ca"), HasSubstr("not a unit of Calcium"));
}

TEST(Content, FollowsTheWaterItIsIn) {
  const WaterOfSample brackish{PracticalSalinity(15.0), Celsius(10.0)};
  EXPECT_NEAR(content("100 mg/L", "Ca", brackish),
              100.0 / (density(PracticalSalinity(15.0), Celsius(10.0)).value() / 1000.0), 1e-9);
  WaterOfSample of_the_trade = water;
  of_the_trade.ppm_is_mg_per_litre = true;
  EXPECT_EQ(content("421 ppm", "Ca", of_the_trade), content("421 mg/L"));
  EXPECT_EQ(content("2 ppb", "Fe", of_the_trade), content("2 ug/L", "Fe"));
  EXPECT_EQ(content("120 ppm CaCO3", "KH", of_the_trade), content("120 mg/L CaCO3", "KH"));
}

TEST(Content, ThatIsUncertainSaysSo) {
  const auto read = [](const WrittenContent& written) {
    const auto value = parse_content(written, {Calcium, 1.0}, water);
    return value ? value->content.standard_uncertainty * litre : -1.0;
  };
  EXPECT_NEAR(read({"421 mg/L", "", "", ""}), 421.0 * analyte_row(Calcium).usual_uncertainty, 1e-9);
  EXPECT_NEAR(read({"421 ± 8 mg/L", "", "", ""}), 4.0, 1e-9);  // expanded: k = 2
  EXPECT_NEAR(read({"421 +/- 8 mg/L (k=2)", "", "", ""}), 4.0, 1e-9);
  EXPECT_NEAR(read({"421 ± 4 mg/L (k=1)", "", "", ""}), 4.0, 1e-9);
  EXPECT_NEAR(read({"421 mg/L ± 2 %", "", "", ""}), 4.21, 1e-9);
  EXPECT_NEAR(read({"421 ± 8", "mg/L", "", ""}), 4.0, 1e-9);
  EXPECT_NEAR(read({"421 mg/L", "", "4 mg/L", ""}), 4.0, 1e-9);  // standard
  EXPECT_NEAR(read({"421", "mg/L", "4", ""}), 4.0, 1e-9);
  EXPECT_NEAR(read({"421 mg/L", "", "1 %", ""}), 4.21, 1e-9);
  EXPECT_THAT(refusal(WrittenContent{"421 ± 8 mg/L", "", "1 %", ""}), HasSubstr("leave one"));
  EXPECT_THAT(refusal("421 ± 0 mg/L"), HasSubstr("cannot be its uncertainty"));
  EXPECT_THAT(refusal("421 ± 500 mg/L"), HasSubstr("cannot be its uncertainty"));
}

TEST(Content, BelowItsDetectionLimitIsAnIntervalFromZero) {
  const auto read = [](const WrittenContent& written) {
    const auto value = parse_content(written, {Iron, 1.0}, water);
    EXPECT_TRUE(value) << written.value << ": " << (value ? "" : value.error().message);
    return value ? value->content : CensoredValue{-1.0, -1.0};
  };
  const CensoredValue expected = below(0.002 / litre);
  for (const WrittenContent& written : {WrittenContent{"< 2 ug/L", "", "", ""},
                                        {"<0.002 mg/l", "", "", ""},
                                        {"≤ 2 µg/l", "", "", ""},
                                        {"<= 2 ug/L", "", "", ""},
                                        {"< 2", "ug/L", "", ""},
                                        {"n.d. (< 2 ug/L)", "", "", ""},
                                        {"n.n. < 2 µg/l", "", "", ""},
                                        {"n.d.", "", "", "2 ug/L"},
                                        {"ND", "ug/L", "", "2"},
                                        {"bdl", "ug/L", "", "< 2"},
                                        {"u.d.l.", "", "", "0,002 mg/L"},
                                        {"nicht nachweisbar", "ug/L", "", "2"},
                                        {"0", "ug/L", "", "2"},
                                        {"0 mg/L", "", "", "2 ug/L"},
                                        {"1.5", "ug/L", "", "2"}}) {
    const CensoredValue value = read(written);
    EXPECT_EQ(value.low, 0.0) << written.value;
    EXPECT_NEAR(value.high, expected.high, 1e-15) << written.value;
    EXPECT_EQ(value.standard_uncertainty, 0.0) << written.value;
  }
}

TEST(Content, ThatWasNotFoundNeedsItsLimit) {
  for (const char* text :
       {"n.d.", "n.n.", "ND", "bdl", "u.d.l.", "not detected", "0 mg/L", "< LOD"})
    EXPECT_THAT(refusal(text), HasSubstr("write its detection limit, such as \"< 2 ug/L\""))
        << text;
  EXPECT_THAT(refusal("< 0 ug/L"), HasSubstr("above 0"));
}

TEST(Content, ThatCanBeReadInTwoWaysIsRefused) {
  EXPECT_THAT(refusal("1,234 mg/L"), HasSubstr(R"(write "1.234 mg/L" or "1234 mg/L")"));
  WrittenContent among_commas{"1.234 mg/L", {}, {}, {}, true};
  EXPECT_THAT(refusal(among_commas), HasSubstr(R"(write "1.2340 mg/L" or "1234 mg/L")"));
  EXPECT_THAT(refusal("421 ppm"), HasSubstr(R"(write "mg/L" or "mg/kg")"));
  EXPECT_THAT(refusal("2 ppb", "Fe"), HasSubstr(R"(write "ug/L" or "ug/kg")"));
  EXPECT_THAT(refusal("2 ppt", "Fe"), HasSubstr("write \"g/kg\" or \"ng/L\""));
  EXPECT_THAT(refusal("421 Mg/L"), HasSubstr("m is milli and M mega"));
  EXPECT_THAT(refusal(WrittenContent{"421 mg/L", "ug/L", "", ""}),
              HasSubstr("leave one of the two"));
  EXPECT_THAT(refusal("140 mg/L", "KH"), HasSubstr("does not say of what"));
}

TEST(Content, ThatIsNoneIsRefused) {
  EXPECT_THAT(refusal("421"), HasSubstr("has no unit"));
  EXPECT_THAT(refusal(""), HasSubstr("there is no value"));
  EXPECT_THAT(refusal("-3 mg/L"), HasSubstr("less than nothing"));
  EXPECT_THAT(refusal("> 500 mg/L"), HasSubstr("no value but a least one"));
  EXPECT_THAT(refusal("400-450 mg/L"), HasSubstr("not a unit"));
  EXPECT_THAT(refusal("ca. 421 mg/L"), HasSubstr("does not begin with a number"));
  EXPECT_THAT(refusal("1e300 mg/L"), HasSubstr("more than water can hold"));
  EXPECT_THAT(refusal("1e999 mg/L"), HasSubstr("cannot be read"));
  EXPECT_THAT(refusal("nan mg/L"), HasSubstr("does not begin"));
  EXPECT_THAT(refusal("8 dKH"), HasSubstr("not a unit of Calcium"));
  EXPECT_THAT(refusal("8 meq/L"), HasSubstr("not a unit of Calcium"));
}

TEST(Content, KeepsWhatWasWritten) {
  EXPECT_EQ(parse_content("421 mg/L", {Calcium, 1.0}, water)->written, "421 mg/L");
  const WrittenContent cells{"< 2", "ug/L", "", ""};
  EXPECT_EQ(parse_content(cells, {Iron, 1.0}, water)->written, "< 2 ug/L");
}

TEST(ConsumptionInWords, IsARateOrAShareADay) {
  const auto constant = parse_consumption("0.3 dKH/d", {Alkalinity, 1.0}, water);
  ASSERT_TRUE(constant);
  EXPECT_EQ(constant->kinetics, Kinetics::ConstantRate);
  EXPECT_NEAR(constant->per_day, content("0.3 dKH", "KH"), 1e-15);
  EXPECT_EQ(constant->standard_uncertainty, 0.0);
  EXPECT_NEAR(parse_consumption("12 mg/L/d", {Calcium, 1.0}, water)->per_day, content("12 mg/L"),
              1e-12);
  EXPECT_NEAR(parse_consumption("12,5 mg/l pro Tag", {Calcium, 1.0}, water)->per_day,
              content("12.5 mg/L"), 1e-12);
  EXPECT_LT(parse_consumption("-2 mg/L per day", {Calcium, 1.0}, water)->per_day, 0.0);
  EXPECT_NEAR(parse_consumption("12 ± 2 mg/L/d", {Calcium, 1.0}, water)->standard_uncertainty,
              content("1 mg/L"), 1e-12);
  const auto share = parse_consumption("4 %/d", {Nitrogen, 1.0}, water);
  ASSERT_TRUE(share);
  EXPECT_EQ(share->kinetics, Kinetics::Proportional);
  EXPECT_DOUBLE_EQ(share->per_day, 0.04);
  for (const char* bad : {"12 mg/L", "4 %", "-4 %/d", "101 %/d", "/d", "x/d", "12/d"})
    EXPECT_FALSE(parse_consumption(bad, {Calcium, 1.0}, water)) << bad;
}

TEST(ShownContent, IsInTheUnitThatPeopleUse) {
  const auto shown = [](std::string_view text, Analyte analyte) {
    return show_content(parse_content(text, {analyte, 1.0}, water)->content, analyte, water);
  };
  EXPECT_EQ(shown("8.1 dKH", Alkalinity), "8.1 dKH");
  EXPECT_EQ(shown("421 mg/L", Calcium), "421 mg/L");
  EXPECT_EQ(shown("2 ug/L", Iron), "2.0 µg/L");
  EXPECT_EQ(shown("< 2 ug/L", Iron), "< 2.0 µg/L");
  EXPECT_EQ(shown("5 mg/L NO3", Nitrogen), "5.0 mg/L NO3");
  EXPECT_EQ(shown("0.05 mg/L PO4", Phosphorus), "0.050 mg/L PO4");
  EXPECT_EQ(show_content({0.001 / litre, 0.002 / litre, 0.0}, Iron, water), "1.0 to 2.0 µg/L");
  EXPECT_EQ(show_content({}, Iron, water), "0 µg/L");
}

TEST(ShownContent, CanBeReadAgain) {
  for (const AnalyteRow& row : analytes()) {
    const auto again =
        parse_content(fmt::format("1 {}", shown_unit(row.analyte)), {row.analyte, 1.0}, water);
    ASSERT_TRUE(again) << row.english;
    EXPECT_NEAR(shown_number(again->content.low, row.analyte, water), 1.0, 1e-12) << row.english;
  }
}

}  // namespace
}  // namespace brinegate::config
