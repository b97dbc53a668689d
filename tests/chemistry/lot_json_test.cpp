// SPDX-License-Identifier: Apache-2.0
// The lot file in JSON. All data are invented.
#include <cmath>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "config/wall_time.h"
#include "tests/chemistry/reading.h"

namespace brinegate::config {
namespace {

using testing::AllOf;
using testing::HasSubstr;
using enum Analyte;

constexpr std::string_view harbour = R"({ "lot": "H-2291", "salt": "Harbour blend",
  "expires": "2029-03-02", "dry_fraction": 0.93,
  "assay": { "salinity": "35 ppt", "method": "ICP-OES",
    "values": {
      "alkalinity": "8.1 dKH",
      "Ca": "421 mg/L",
      "K": ["396 mg/L", "401 mg/L", "399 mg/L"],
      "Fe": "< 2 ug/L",
      "SO4": { "value": "2700 mg/L", "uncertainty": "40 mg/L" },
      "Zn": { "value": "n.d.", "detection_limit": "3 ug/L" } } } })";

TEST(LotJson, OfTheDesignIsRead) {
  const Lot lot = lot_read(harbour);
  EXPECT_EQ(lot.name, "H-2291");
  EXPECT_EQ(lot.salt, "Harbour blend");
  EXPECT_EQ(lot.expires, parse_iso8601("2029-03-03T00:00:00Z"));
  EXPECT_EQ(lot.dry_fraction, 0.93);
  EXPECT_NEAR(lot.assay.salinity.value(), 35.0 * 35.0 / 35.16504, 1e-9);
  EXPECT_EQ(lot.assay.method, "ICP-OES");
  EXPECT_EQ(lot.assay.values.size(), 6U);
  EXPECT_NEAR(per_litre(lot.assay, Alkalinity), 8.1 * 0.3566524600103429, 1e-9);
  EXPECT_NEAR(per_litre(lot.assay, Calcium), 421.0, 1e-9);
  EXPECT_NEAR(per_litre(lot.assay, Potassium), (396.0 + 401.0 + 399.0) / 3.0, 1e-9);
  EXPECT_EQ(lot.assay.values.at(Potassium).replicates.size(), 3U);
  EXPECT_EQ(lot.assay.values.at(Calcium).written, "421 mg/L");
  EXPECT_EQ(lot.assay.values.at(Calcium).line, 6);
  EXPECT_EQ(lot.assay.values.at(Iron).content.low, 0.0);
  EXPECT_NEAR(per_litre(lot.assay, Iron), 0.002, 1e-12);
  EXPECT_NEAR(per_litre(lot.assay, Sulfur), 2700.0 * 32.06 / 96.056, 1e-9);
  const CensoredValue sulfur = lot.assay.values.at(Sulfur).content;
  EXPECT_NEAR(sulfur.standard_uncertainty / sulfur.high, 40.0 / 2700.0, 1e-12);
  EXPECT_TRUE(lot.assay.values.at(Zinc).content.censored());
  EXPECT_EQ(lot.version, 0);
}

TEST(LotJson, NeedsNoMoreThanWhatThePersonDoesNotSay) {
  const Lot lot = lot_read(R"({"assay": {"values": {"Ca": "421 mg/L"}}})", usual_particulars());
  EXPECT_EQ(lot.name, "H-2291");
  EXPECT_EQ(lot.assay.salinity, PracticalSalinity(35.0));
  EXPECT_EQ(lot.assay.temperature, Celsius(25.0));
  EXPECT_THAT(lot_refusal(R"({"lot": "H-2291", "assay": {"values": {"Ca": "421 mg/L"}}})"),
              HasSubstr("salinity of the sample is missing"));
  EXPECT_THAT(lot_refusal(R"({"assay": {"salinity": "35 ppt", "values": {"Ca": "421 mg/L"}}})"),
              HasSubstr("which lot it is"));
}

TEST(LotJson, AndThePersonMustAgree) {
  LotParticulars said;
  said.name = "H-2304";
  EXPECT_THAT(lot_refusal(harbour, said), HasSubstr("lot:1:10: \"H-2291\" stands here"));
  said.name = "H-2291";
  said.salinity = PracticalSalinity(35.0);  // the file says 35 ppt, which is SP 34.836
  EXPECT_THAT(lot_refusal(harbour, said), HasSubstr("\"35 ppt\" stands here"));
  said.salinity = PracticalSalinity(34.836);
  EXPECT_NO_THROW(lot_read(harbour, said));
}

TEST(LotJson, KeepsTheWaterOfTheSample) {
  const Lot lot = lot_read(R"({"lot": "H-2291", "assay": {"salinity": "33 PSU",
    "temperature": "20 C", "ppm": "mg/L", "values": {"Ca": "400 ppm"}}})");
  EXPECT_EQ(lot.assay.temperature, Celsius(20.0));
  EXPECT_NEAR(lot.assay.values.at(Calcium).content.low,
              content_of_per_litre(400.0, PracticalSalinity(33.0), Celsius(20.0)), 1e-12);
}

TEST(LotJson, ReplicatesAreOneValueWithTheirOwnScatter) {
  const auto replicates = [](std::string_view list) {
    return lot_read(fmt::format(R"({{"assay": {{"values": {{"Ca": {}}}}}}})", list),
                    usual_particulars())
        .assay.values.at(Calcium);
  };
  EXPECT_TRUE(replicates(R"(["421 mg/L"])").replicates.empty());
  const auto wide = replicates(R"(["380 mg/L", "420 mg/L", "460 mg/L"])").content;
  EXPECT_NEAR(wide.standard_uncertainty / wide.low, 40.0 / std::sqrt(3.0) / 420.0, 1e-9);
  const auto none = replicates(R"(["< 2 mg/L", "< 3 mg/L"])");
  EXPECT_TRUE(none.content.censored());
  EXPECT_NEAR(none.content.high, content_of_per_litre(3.0, PracticalSalinity(35.0), Celsius(25.0)),
              1e-12);
  const auto stated =
      replicates(R"({"value": ["420 mg/L", "422 mg/L"], "uncertainty": "1 %"})").content;
  EXPECT_NEAR(stated.standard_uncertainty / stated.low, 0.01, 1e-9);
}

TEST(LotJson, NamesEveryErrorAtOnceWithItsLine) {
  const std::string errors = lot_refusal(R"({ "lot": "H-2291", "expired": "2029-03-02",
  "assay": { "salinity": "35 ppt",
    "values": {
      "Calzium": "421 mg/L",
      "Mg": 1300,
      "K": "1,234 mg/L",
      "Fe": "0 ug/L",
      "Sr": { "value": "8 mg/L", "uncertianty": "1 mg/L" } } } })");
  EXPECT_THAT(errors, AllOf(HasSubstr("lot:1:20: unknown key 'expired' in the lot: did you mean "
                                      "'expires'?"),
                            HasSubstr("lot:4:7: there is nothing called \"Calzium\": did you mean "
                                      "'Calcium'?"),
                            HasSubstr("lot:5:7: Magnesium: \"1300\" has no unit"),
                            HasSubstr("lot:6:7: Potassium: \"1,234 mg/L\" can be read in two ways"),
                            HasSubstr("lot:7:7: Iron: \"0 ug/L\" says that it was not found"),
                            HasSubstr("lot:8:34: unknown key 'uncertianty' in Sr")));
}

TEST(LotJson, OneAnalyteIsGivenOnce) {
  EXPECT_THAT(lot_refusal(R"({"assay": {"values": {"Ca": "421 mg/L", "calcium": "420 mg/L"}}})",
                          usual_particulars()),
              HasSubstr("Calcium is given twice, first in line 1"));
  EXPECT_THAT(lot_refusal(R"({"assay": {"values": {"S": "900 mg/L",
                              "SO4": "900 mg/L"}}})",
                          usual_particulars()),
              HasSubstr("lot:2:31: Sulfur is given twice, first in line 1, and the two do not"));
}

}  // namespace
}  // namespace brinegate::config
