// SPDX-License-Identifier: Apache-2.0
// Tanks and water tests as keepers write them. All data are invented.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "config/wall_time.h"
#include "rules/seawater.h"
#include "tests/chemistry/reading.h"

namespace brinegate::config {
namespace {

using testing::AllOf;
using testing::HasSubstr;
using enum Analyte;

constexpr std::string_view reef = R"({ "tank": "reef", "volume": "800 L", "salinity": "35 ppt",
  "temperature": "25 C",
  "wanted": { "alkalinity": ["7 dKH", "8.5 dKH"],
              "Ca": { "from": "400 mg/L", "to": "450 mg/L", "weight": 2 },
              "Cu": { "to": "5 ug/L", "never_above": true } },
  "consumption": { "alkalinity": "0.3 dKH/d", "NO3": "4 %/d" },
  "limits": { "salinity_step": "0.5 ppt", "temperature_step": "1 C" } })";

Tank tank_read(std::string_view text) {
  const ReadTank read = read_tank(text, "tank.json");
  if (!read.tank)
    throw std::runtime_error(all_errors(read.errors));
  return *read.tank;
}
std::string tank_refusal(std::string_view text) {
  const ReadTank read = read_tank(text, "tank.json");
  return read.tank ? "not refused" : all_errors(read.errors);
}
WaterTest test_read(std::string_view text, const TestParticulars& said = {}) {
  const ReadTest read = read_water_test(text, "test", said);
  if (!read.test)
    throw std::runtime_error(all_errors(read.errors));
  return *read.test;
}
std::string test_refusal(std::string_view text, const TestParticulars& said = {}) {
  const ReadTest read = read_water_test(text, "test", said);
  return read.test ? "not refused" : all_errors(read.errors);
}

TEST(TankFile, SaysWhatIsWantedAndUsed) {
  const Tank tank = tank_read(reef);
  const double litre = density(tank.salinity, tank.temperature).value() / 1000.0;  // kg
  EXPECT_EQ(tank.name, "reef");
  EXPECT_EQ(tank.volume, Litres(800.0));
  EXPECT_NEAR(tank.salinity.value(), 34.836, 1e-3);
  ASSERT_EQ(tank.wanted.size(), 3U);
  EXPECT_NEAR(tank.wanted.at(Alkalinity).range.low * litre, 7.0 * 0.3566524600103429, 1e-9);
  EXPECT_NEAR(tank.wanted.at(Alkalinity).range.high * litre, 8.5 * 0.3566524600103429, 1e-9);
  EXPECT_EQ(tank.wanted.at(Alkalinity).weight, 1.0);
  EXPECT_NEAR(tank.wanted.at(Calcium).range.low * litre, 400.0, 1e-9);
  EXPECT_EQ(tank.wanted.at(Calcium).weight, 2.0);
  EXPECT_EQ(tank.wanted.at(Calcium).source, "set by the keeper");
  EXPECT_EQ(tank.wanted.at(Copper).range.low, 0.0);
  EXPECT_NEAR(tank.wanted.at(Copper).range.high * litre, 0.005, 1e-12);
  EXPECT_TRUE(tank.wanted.at(Copper).never_above);
  EXPECT_NEAR(tank.consumption.at(Alkalinity).per_day * litre, 0.3 * 0.3566524600103429, 1e-9);
  EXPECT_EQ(tank.consumption.at(Nitrogen).kinetics, Kinetics::Proportional);
  EXPECT_NEAR(tank.salinity_step.value(), 0.5 * 35.0 / 35.16504, 1e-9);
  EXPECT_EQ(tank.temperature_step, Celsius(1.0));
  EXPECT_TRUE(tank.tests.empty());
}

TEST(TankFile, NeedsANameAndAVolumeOnly) {
  const Tank tank = tank_read(R"({"tank": "reef", "volume": "80 US gal"})");
  EXPECT_EQ(tank.salinity, Tank{}.salinity);
  EXPECT_TRUE(tank.wanted.empty());
  EXPECT_THAT(tank_refusal("{}"), AllOf(HasSubstr("'tank' is missing in the tank: write for "
                                                  "example \"tank\": \"reef\""),
                                        HasSubstr("'volume' is missing")));
}

TEST(TankFile, NamesEveryErrorAtOnceWithItsLine) {
  const std::string errors = tank_refusal(R"({ "tank": "Reef!", "volume": "800",
  "wanted": { "alkalinity": ["8.5 dKH", "7 dKH"],
              "Calzium": ["400 mg/L", "450 mg/L"],
              "Mg": { "from": "1250 mg/L" },
              "Ca": { "to": "450", "wieght": 2 },
              "Cu": "5 ug/L",
              "K": ["380 mg/L"],
              "Sr": { "to": "8 mg/L", "weight": -1 } },
  "consumption": { "alkalinity": "0.3 dKH", "NO3": 4 },
  "limits": { "salinity_step": "0 ppt" } })");
  EXPECT_THAT(errors, AllOf(HasSubstr("tank.json:1:11: 'Reef!' cannot name a tank"),
                            HasSubstr("tank.json:1:30: 'volume': \"800\" has no unit"),
                            HasSubstr("tank.json:2:15: Alkalinity: the range must rise"),
                            HasSubstr("tank.json:3:15: there is nothing called \"Calzium\""),
                            HasSubstr("tank.json:4:21: 'to' is missing in Magnesium")));
  EXPECT_THAT(errors, AllOf(HasSubstr("tank.json:5:29: Calcium: \"450\" has no unit"),
                            HasSubstr("unknown key 'wieght' in Calcium: did you mean 'weight'?"),
                            HasSubstr("tank.json:6:15: Copper is text: expected for example"),
                            HasSubstr("tank.json:7:15: Potassium: expected the lowest and the"),
                            HasSubstr("'weight' is out of range"),
                            HasSubstr("does not say in which time")));
  EXPECT_THAT(errors, AllOf(HasSubstr("Nitrogen: this is a whole number: expected text"),
                            HasSubstr("'salinity_step': \"0 ppt\" is out of range")));
}

TEST(TankFile, IsJsonAlone) {
  EXPECT_THAT(tank_refusal("tank: reef"), HasSubstr("a tank is described in JSON"));
  EXPECT_THAT(tank_refusal("[]"), HasSubstr("'the tank' is a list"));
  EXPECT_THAT(
      tank_refusal(R"({"tank": "reef", "volume": "1 L", "wanted": {"Ca": ["1 mg/L", "2 mg/L"],
                              "calcium": ["1 mg/L", "2 mg/L"]}})"),
      HasSubstr("Calcium is given twice"));
}

TEST(WaterTestText, IsReadAsJsonCsvAndTable) {
  for (const char* text :
       {R"({ "tested": "2026-11-02T18:00", "salinity": "34.8 ppt",
             "values": { "Ca": "405 mg/L", "NO3": "5 mg/L" } })",
        "tested,2026-11-02T18:00\nsalinity,34.8,ppt\nCa,405,mg/L\nNO3,5,mg/L\n",
        "Getestet: 2026-11-02T18:00\nSalinität: 34,8 ppt\nCalcium 405,0 mg/l\nNitrat 5,0 mg/l"}) {
    const WaterTest test = test_read(text);
    EXPECT_EQ(test.at, parse_iso8601("2026-11-02T18:00:00Z")) << text;
    EXPECT_NEAR(reference_salinity(test.assay.salinity).value(), 34.8, 1e-9) << text;
    EXPECT_NEAR(per_litre(test.assay, Calcium), 405.0, 1e-9) << text;
    EXPECT_NEAR(per_litre(test.assay, Nitrogen), 5.0 * 14.007 / 62.004, 1e-9) << text;
    EXPECT_TRUE(test.by.empty());
  }
}

TEST(WaterTestText, NeedsItsTimeAndSalinity) {
  EXPECT_THAT(test_refusal("Ca 405 mg/L"),
              AllOf(HasSubstr("when the sample was taken"), HasSubstr("salinity of the sample")));
  EXPECT_THAT(test_refusal("tested: yesterday\nsalinity: 35 ppt\nCa 405 mg/L"),
              HasSubstr("test:1:1: \"yesterday\" is no time"));
  const TestParticulars said{parse_iso8601("2026-11-02T18:00:00Z"), PracticalSalinity(34.6)};
  EXPECT_NO_THROW(test_read("Ca 405 mg/L", said));
  EXPECT_NO_THROW(test_read("tested: 2026-11-02T19:00+01:00\nCa 405 mg/L", said));
  EXPECT_THAT(test_refusal("tested: 2026-11-03\nCa 405 mg/L", said), HasSubstr("said beside it"));
  EXPECT_THAT(test_refusal(R"({"tested": "2026-11-02", "lot": "H-2291", "values": {}})", said),
              HasSubstr("unknown key 'lot' in the water test"));
}

}  // namespace
}  // namespace brinegate::config
