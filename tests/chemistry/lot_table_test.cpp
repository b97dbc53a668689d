// SPDX-License-Identifier: Apache-2.0
// CSV and tables pasted from pages and documents, in English and German. All data are invented.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/chemistry/reading.h"

namespace brinegate::config {
namespace {

using testing::AllOf;
using testing::ElementsAre;
using testing::Field;
using testing::HasSubstr;
using testing::Pair;
using enum Analyte;

// mg/L (meq/L) by symbol, rounded as they were written.
std::map<std::string, double> values_of(const Lot& lot) {
  std::map<std::string, double> values;
  for (const auto& [analyte, value] : lot.assay.values)
    values[std::string(analyte_row(analyte).symbol)] =
        std::round(per_litre(lot.assay, analyte) * 1e6) / 1e6;
  return values;
}
std::map<std::string, double> values_in(std::string_view text) {
  return values_of(lot_read(text, usual_particulars()));
}
std::string refusal(std::string_view text) {
  return lot_refusal(text, usual_particulars());
}

const std::map<std::string, double> three{{"Ca", 421.0}, {"Fe", 0.002}, {"Mg", 1312.0}};

TEST(LotCsv, IsReadWithEverySeparatorWithAndWithoutHeader) {
  for (const char* text :
       {"analyte,value,unit\nCa,421,mg/L\nMg,1312,mg/L\nFe,<2,ug/L\n",
        "Ca,421,mg/L\nMg,1312,mg/L\nFe,< 2,ug/L",
        "Element;Wert;Einheit\nCalcium;421,0;mg/l\nMagnesium;1312;mg/l\nEisen;< 0,002;mg/l\n",
        "analyte\tvalue\tunit\nCa\t421\tmg/L\nMg\t1312\tmg/L\nFe\t<2\tug/L\n",
        "\"analyte\",\"value\",\"unit\"\r\n\"Ca\",\"421,0\",\"mg/L\"\r\n\"Mg\",\"1312\",\"mg/L\""
        "\r\n\"Fe\",\"< 0,002\",\"mg/L\"\r\n",
        "unit,value,analyte\nmg/L,421,Ca\nmg/L,1312,Mg\nug/L,<2,Fe\n",
        "analyte,value,unit,detection_limit\nCa,421,mg/L,\nMg,1312,mg/L,\nFe,0,ug/L,2\n",
        "analyte,value,unit,limit\nCa,421,mg/L,\nMg,1312,mg/L,\nFe,n.d.,ug/L,2 ug/L\n",
        "\xEF\xBB\xBF"
        "analyte,value,unit\rCa,421,mg/L\rMg,1312,mg/L\rFe,<2,ug/L\r"})
    EXPECT_EQ(values_in(text), three) << text;
}

TEST(LotCsv, ListsTheColumnsItDoesNotRead) {
  const ReadLot read = read_lot("analyte,value,unit,laboratory,reference\nCa,421,mg/L,cellar,420\n",
                                "lot.csv", usual_particulars());
  ASSERT_TRUE(read.lot) << all_errors(read.errors);
  EXPECT_THAT(read.unread, ElementsAre(AllOf(Field(&UnreadLine::line, 1),
                                             Field(&UnreadLine::text, "laboratory")),
                                       Field(&UnreadLine::text, "reference")));
}

TEST(LotCsv, TakesParticularsAsRows) {
  const Lot lot = lot_read(
      "analyte,value,unit\nlot,H-2291\nsalt,Harbour blend\nsalinity,35,ppt\nexpires,2029-03-02\n"
      "dry fraction,0.93\ntemperature,20,C\nmethod,ICP-OES\nCa,421,mg/L\n");
  EXPECT_EQ(lot.name, "H-2291");
  EXPECT_EQ(lot.salt, "Harbour blend");
  EXPECT_NEAR(lot.assay.salinity.value(), 34.836, 1e-3);
  EXPECT_EQ(lot.assay.temperature, Celsius(20.0));
  EXPECT_EQ(lot.assay.method, "ICP-OES");
  EXPECT_EQ(lot.dry_fraction, 0.93);
  EXPECT_TRUE(lot.expires);
}

TEST(LotCsv, AStatedUncertaintyIsTaken) {
  const auto relative = [](std::string_view text) {
    const CensoredValue value =
        lot_read(text, usual_particulars()).assay.values.at(Calcium).content;
    return value.standard_uncertainty / value.low * 421.0;
  };
  EXPECT_NEAR(relative("analyte,value,unit,uncertainty\nCa,421,mg/L,4\n"), 4.0, 1e-9);
  EXPECT_NEAR(relative("analyte,value,unit,±\nCa,421,mg/L,8\n"), 4.0, 1e-9);
  EXPECT_NEAR(relative("analyte,value,unit,Uncertainty (k=2)\nCa,421,mg/L,8\n"), 4.0, 1e-9);
  EXPECT_NEAR(relative("Ca | 421 ± 8 mg/L"), 4.0, 1e-9);
  EXPECT_NEAR(relative("Ca 421 ± 8 mg/L (k = 2)"), 4.0, 1e-9);
}

TEST(PastedTable, InEnglishIsRead) {
  const ReadLot read = read_lot(R"(Harbour blend - water analysis
Lot: H-2291
Salinity: 35 ppt
Expires: 2029-03-02

Element          Result     Unit    Reference
Calcium (Ca)     421        mg/L    400-450
Magnesium (Mg)   1312       mg/L    1250-1400
Alkalinity       8.1        dKH     7-9
Iron (Fe)        < 2        ug/L    0-5
pH               8.2        -       8.0-8.4
All values at 25 degrees.
)",
                                "page.txt", {});
  ASSERT_TRUE(read.lot) << all_errors(read.errors);
  EXPECT_EQ(read.lot->name, "H-2291");
  EXPECT_EQ(values_of(*read.lot),
            (std::map<std::string, double>{{"Ca", 421.0},
                                           {"Mg", 1312.0},
                                           {"alkalinity", std::round(8.1 * 0.35665246e6) / 1e6},
                                           {"Fe", 0.002}}));
  std::vector<int> lines;
  for (const UnreadLine& line : read.unread)
    lines.push_back(line.line);
  EXPECT_THAT(lines, ElementsAre(1, 6, 11, 12));
}

TEST(PastedTable, InGermanIsRead) {
  const Lot lot = lot_read(R"(Salz: Harbour blend
Charge: H-2304
Salinität: 35,0 PSU
Haltbar bis: 2029-03-02
Methode: ICP-OES

| Element | Sollwert | Messwert | Einheit |
|---------|---------:|---------:|---------|
| Calcium | 420 | 431,5 | mg/l |
| Kalium | 400 | 402 | mg/l |
| Karbonathärte | 8 | 7,9 | °dKH |
| Sulfat (SO₄²⁻) | 2700 | 2650 | mg/l |
| Jod | 60 | 55,5 | µg/l |
| Eisen | 2 | n.n. (< 0,5 µg/l) | µg/l |
)");
  EXPECT_EQ(lot.name, "H-2304");
  EXPECT_EQ(lot.assay.salinity, PracticalSalinity(35.0));
  EXPECT_NEAR(per_litre(lot.assay, Calcium), 431.5, 1e-9);
  EXPECT_NEAR(per_litre(lot.assay, Potassium), 402.0, 1e-9);
  EXPECT_NEAR(per_litre(lot.assay, Alkalinity), 7.9 * 0.3566524600103429, 1e-9);
  EXPECT_NEAR(per_litre(lot.assay, Sulfur), 2650.0 * 32.06 / 96.056, 1e-9);
  EXPECT_NEAR(per_litre(lot.assay, Iodine), 0.0555, 1e-12);
  EXPECT_NEAR(per_litre(lot.assay, Iron), 0.0005, 1e-12);
  EXPECT_TRUE(lot.assay.values.at(Iron).content.censored());
}

TEST(PastedTable, IsReadInEverySaneShape) {
  for (const char* text :
       {"Ca 421 mg/L\nMg 1312 mg/L\nFe < 2 ug/L",
        "Calcium: 421 mg/L\nMagnesium: 1312 mg/l\nIron: <2 µg/L",
        "Ca = 421mg/L\nMg = 1312mg/L\nFe = <2ug/L",
        "- Calcium 421 mg/L\n- Magnesium 1312 mg/L\n- Iron < 2 ug/L",
        "1. Calcium 421 mg/L\n2. Magnesium 1312 mg/L\n3. Iron < 2 ug/L",
        "Ca Calcium 421 mg/L\nMg Magnesium 1312 mg/L\nFe Iron < 2 ug/L",
        "Ca2+ 421 mg/L\nMg 2+ 1312 mg/L\nFe n.d. (< 2 ug/L)",
        "Calcium 421 mg/L (400-450)\nMagnesium 1312 mg/L (target 1350)\nIron < 2 ug/L (max 5)",
        "Calcium 421 mg/L 400 - 450\nMagnesium 1312 mg/L 1250 to 1400\nIron < 2 ug/L 0...5",
        "Calcium 421 mg/L target 420\nMagnesium 1312 mg/L Sollwert 1350\nIron < 2 ug/L",
        "Ca\t400-450\t421 mg/L\nMg\t1250-1400\t1312 mg/L\nFe\t0-5\t< 2 ug/L",
        "1\tCa\tCalcium\t421\tmg/L\n2\tMg\tMagnesium\t1312\tmg/L\n3\tFe\tIron\t<2\tug/L",
        "Element Value Unit\nCalcium 421 mg/L\nMagnesium 1312 mg/L\nIron < 2 ug/L",
        "Element Reference Value Unit\nCalcium 420 421 mg/L\nMagnesium 1350 1312 mg/L\n"
        "Iron 5 < 2 ug/L",
        "Element | mg/L\nCa | 421\nMg | 1312\nFe | < 0.002",
        "Element  Messwert [mg/l]  Sollwert [mg/l]\nCa  421  420\nMg  1312  1350\nFe  < 0,002  0",
        "Element;Value (mg/L)\nCa;421\nMg;1312\nElement;Value (µg/L)\nFe;<2",
        "Calcium [mg/L] 421\nMagnesium [mg/L] 1312\nIron [ug/L] < 2",
        "Calcium, mg/L | 421\nMagnesium, mg/L | 1312\nIron, ug/L | < 2",
        "## Analysis\n\nCa  421 mg/L\n\n---\nMagnesium 1312  mg/L\nFe  < 2 ug/L\n"})
    EXPECT_EQ(values_in(text), three) << text;
}

TEST(PastedTable, TellsASlipFromALineThatSaysNothing) {
  const ReadLot read = read_lot("Ca 421 mg/L\nMagnesum 1312 mg/L\nall the best\nMagnesum,1312,mg/L",
                                "lot", usual_particulars());
  ASSERT_TRUE(read.lot) << all_errors(read.errors);
  EXPECT_THAT(read.unread,
              ElementsAre(Field(&UnreadLine::why, HasSubstr("did you mean 'Magnesium'?")),
                          Field(&UnreadLine::why, "it names no analyte"),
                          Field(&UnreadLine::why, HasSubstr("did you mean 'Magnesium'?"))));
}

// Common practice, no source: laboratories print phosphorus and phosphate of one measurement.
TEST(PastedTable, OneMeasurementInTwoFormsCountsOnce) {
  const ReadLot read = read_lot(
      "P 0.020 mg/L\nPO4 0.061 mg/L\nKH 8.1 dKH\nAlkalinity 2.89 meq/L\nNO3 < 2 mg/L\nN < 0.4 mg/L",
      "lot", usual_particulars());
  ASSERT_TRUE(read.lot) << all_errors(read.errors);
  const auto values = values_of(*read.lot);
  EXPECT_EQ(values.size(), 3U);
  EXPECT_NEAR(values.at("P"), 0.02, 3e-4);
  EXPECT_NEAR(values.at("alkalinity"), 2.89, 0.01);
  EXPECT_THAT(
      read.unread,
      ElementsAre(Field(&UnreadLine::why, HasSubstr("says the same in another form")),
                  Field(&UnreadLine::why, HasSubstr("says the same in another form")),
                  AllOf(Field(&UnreadLine::line, 5), Field(&UnreadLine::text, "Nitrogen < 2 mg/L"),
                        Field(&UnreadLine::why, "line 6 says the same in another form"))));
  EXPECT_THAT(refusal("P 0.061 mg/L\nPO4 0.061 mg/L"), HasSubstr("the two do not agree"));
  EXPECT_THAT(refusal("P 0.061 mg/L\nPO4 < 0.03 mg/L"), HasSubstr("the two do not agree"));
  EXPECT_THAT(refusal("PO4 0.061 mg/L\nPO4 0.061 mg/L"),
              HasSubstr("given twice, first in line 1: "));
  EXPECT_THAT(refusal("P 0.020 mg/L\nPO4 0.061 mg/L\nPO4 0.061 mg/L"),
              HasSubstr("lot:3:1: Phosphorus is given twice"));
}

TEST(PastedTable, TakesAFormulaThatWasTornApart) {
  const auto values = values_in("SO 4 2- 2700 mg/L\nNO 3 - 5.2 mg/L\nPO4 3- 0.05 mg/L");
  EXPECT_NEAR(values.at("S"), 2700.0 * 32.06 / 96.056, 1e-5);
  EXPECT_NEAR(values.at("N"), 5.2 * 14.007 / 62.004, 1e-5);
  EXPECT_NEAR(values.at("P"), 0.05 * 30.974 / 94.970, 1e-5);
  EXPECT_THAT(refusal("CO 2 3.1 mg/L\nCa 421 mg/L"), HasSubstr("lot:1:1: 'CO' can be cobalt"));
}

TEST(PastedTable, NeverTakesAReferenceForTheValue) {
  EXPECT_THAT(refusal("Ca 421 420 mg/L"), HasSubstr("\"421\" and \"420\" can both be its value"));
  EXPECT_THAT(refusal("Ca | 421 | mg/L | 420 | mg/L"), HasSubstr("can both be its value"));
  EXPECT_THAT(refusal("Ca 421 mg/L (420)"), HasSubstr("can both be its value"));
  EXPECT_THAT(refusal("Ca 400-450 mg/L"), HasSubstr("no value stands there"));
  EXPECT_THAT(refusal("Ca target 420 mg/L"), HasSubstr("no value stands there"));
  // With a column missing, the rest has moved.
  EXPECT_THAT(refusal("Element Reference Value Unit\nCalcium 420 mg/L"),
              HasSubstr("lot:2:1: Calcium: it has 3 columns, but the header has 4"));
  EXPECT_THAT(refusal("Element\tReference\tValue\nCa\t420 mg/L"),
              HasSubstr("no value stands there"));
  EXPECT_THAT(refusal("Element | Reference | Comment\nCa | 420 mg/L | fine"),
              HasSubstr("lot:1:1: no column says that it is the value"));
  EXPECT_THAT(refusal("Element | Wert | Messwert\nCa | 420 | 421"),
              HasSubstr("two columns say that they are the value"));
}

TEST(PastedTable, ALineThatNamesAnAnalyteAndCannotBeReadIsAnError) {
  EXPECT_THAT(refusal("Ca\nMg 1312 mg/L"), HasSubstr("lot:1:1: Calcium: no value stands there"));
  EXPECT_THAT(refusal("Ca - mg/L"), HasSubstr("no value stands there"));
  EXPECT_THAT(refusal("Mg 1312 mg/L\nCa 421"), HasSubstr("lot:2:1: Calcium: \"421\" has no unit"));
  EXPECT_THAT(refusal("Ca n.d."), HasSubstr("write its detection limit"));
  EXPECT_THAT(refusal("Ca not detected"), HasSubstr("write its detection limit"));
  EXPECT_THAT(refusal("I measured 421 mg/L of it"), HasSubstr("words stand between"));
  EXPECT_THAT(refusal("Ca 421 mg/L, Mg 1312 mg/L"), HasSubstr("can both be its value"));
  EXPECT_THAT(refusal("Ca,421,5,mg/L\nMg,1312,mg/L"), HasSubstr("can both be its value"));
  EXPECT_THAT(refusal("analyte,value,unit\nCa,421,5,mg/L"), HasSubstr("needs quotation marks"));
}

TEST(PastedTable, DecimalCommasElsewhereMakeAPointBeforeThreeDigitsOpen) {
  EXPECT_THAT(refusal("Ca 421,5 mg/l\nMg 1.312 mg/l"),
              HasSubstr("Magnesium: \"1.312\" can be read in two ways"));
  EXPECT_NEAR(values_in("Ca 421,5 mg/l\nMg 1.312,0 mg/l").at("Mg"), 1312.0, 1e-9);
  EXPECT_NEAR(values_in("Ca 421.5 mg/l\nMg 1.312 g/l").at("Mg"), 1312.0, 1e-9);
}

TEST(PastedTable, SalinityIsRequiredAndAgreed) {
  LotParticulars said = usual_particulars();
  said.salinity.reset();
  EXPECT_THAT(lot_refusal("Ca 421 mg/L", said), HasSubstr("salinity of the sample is missing"));
  EXPECT_THAT(lot_refusal("Salinity: 35\nCa 421 mg/L", said),
              HasSubstr("lot:1:1: \"35\" has no unit"));
  EXPECT_NO_THROW(lot_read("Salinity 35 ppt\nCa 421 mg/L", said));
  EXPECT_NO_THROW(lot_read("Salinity | 35 | ppt\nCa | 421 | mg/L", said));
  EXPECT_NO_THROW(lot_read("Salinity (ppt): 35\nCa 421 mg/L", said));
  EXPECT_NO_THROW(lot_read("Salzgehalt = 1,0264 sg\nCa 421 mg/L", said));
  EXPECT_THAT(lot_refusal("Salinity: 35 ppt\nSalinity: 33 ppt\nCa 421 mg/L", said),
              HasSubstr("lot:2:1: \"33 ppt\" stands here and \"35 ppt\" in line 1"));
  said.salinity = PracticalSalinity(33.0);
  EXPECT_THAT(lot_refusal("Salinity: 35 ppt\nCa 421 mg/L", said), HasSubstr("said beside it"));
}

}  // namespace
}  // namespace brinegate::config
