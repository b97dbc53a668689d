// SPDX-License-Identifier: Apache-2.0
// What people write comes to the right number, and each mistake is told what it is and what to
// write instead. Factors: tests/reference/data/units.csv, each row with its source.
#include "config/quantity.h"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <functional>
#include <map>
#include <stdexcept>
#include <string>
#include <string_view>
#include <type_traits>

#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include "tests/reference/csv.h"

namespace brinegate::config {
namespace {

using namespace std::chrono_literals;
using reference::Row;
using reference::table;
using testing::AllOf;
using testing::HasSubstr;

// Every parser as text -> number in our unit, so that a mistake can be tried on each.
using Parser = std::function<Result<double>(std::string_view)>;

template <class T>
Parser parser(Result<T> (*parse)(std::string_view)) {
  return [parse](std::string_view text) -> Result<double> {
    const auto parsed = parse(text);
    if (!parsed)
      return parsed.error();
    if constexpr (std::is_same_v<T, Duration>)
      return seconds(*parsed);
    else if constexpr (std::is_same_v<T, double>)
      return *parsed;
    else
      return parsed->value();
  };
}

const std::map<std::string, Parser> parsers{
    {"temperature", parser(parse_temperature)},
    {"temperature difference", parser(parse_temperature_difference)},
    {"conductivity", parser(parse_conductivity)},
    {"volume", parser(parse_volume)},
    {"mass", parser(parse_mass)},
    {"duration", parser(parse_duration)},
    {"flow", parser(parse_flow)},
    {"salinity", parser(parse_salinity)},
    {"salinity difference", parser(parse_salinity_difference)},
    {"share", parser(parse_share)},
};

double read(const std::string& quantity, const std::string& text) {
  const auto parsed = parsers.at(quantity)(text);
  if (!parsed)
    throw std::runtime_error(parsed.error().message);
  return *parsed;
}
std::string refusal(const std::string& quantity, const std::string& text) {
  const auto parsed = parsers.at(quantity)(text);
  return parsed ? fmt::format("not refused: {} is {}", text, *parsed) : parsed.error().message;
}

// How a unit of the table is written for us.
const std::map<std::string, std::string> written{{"SP (PSU)", "PSU"},
                                                 {"g/kg (SA = SR)", "g/kg"},
                                                 {"ppt (mass)", "ppt"},
                                                 {"oz (avoirdupois)", "oz"},
                                                 {"degF", "F"},
                                                 {"degC", "C"},
                                                 {"g/kg", "g/kg"},
                                                 {"S/m", "S/m"},
                                                 {"mS/cm", "mS/cm"},
                                                 {"uS/cm", "uS/cm"},
                                                 {"US gal", "US gal"},
                                                 {"imp gal", "imp gal"},
                                                 {"L", "L"},
                                                 {"lb", "lb"},
                                                 {"kg", "kg"},
                                                 {"g", "g"},
                                                 {"K", "K"},
                                                 {"g/L", "g/L"}};

// A row says that so much of one unit is so much of another: both must be read as the same.
// Left out: what nobody can write here (cubic inches, mmho/cm, IPTS-68), and what is held against
// the table in tests/reference/chemistry_reference_test.cpp (alkalinity, concentrations, g/L at
// another temperature than 25 °C).
TEST(Quantity, AgreesWithEveryRowOfTheUnitTableThatItCovers) {
  std::map<std::string, int> used;
  int left_out = 0;
  for (const Row& row : table("units.csv")) {
    const std::string& quantity = row.text("quantity");
    const auto from = written.find(row.text("from_unit"));
    const auto to = written.find(row.text("to_unit"));
    if (from == written.end() || to == written.end() || parsers.count(quantity) == 0 ||
        row.text("condition").find("20 degC") != std::string::npos) {
      ++left_out;
      continue;
    }
    // Densities of the table are those of SP 35.
    const double amount = from->second == "PSU" ? 35.0 : 35.16504;
    const double same = row.number("factor") * amount + row.number("offset");
    const double a = read(quantity, fmt::format("{} {}", amount, from->second));
    const double b = read(quantity, fmt::format("{} {}", same, to->second));
    EXPECT_NEAR(a, b, 1e-12 * std::max(1.0, std::abs(a)))
        << amount << " " << from->second << " is " << same << " " << to->second;
    ++used[quantity];
  }
  const std::map<std::string, int> expected{
      {"conductivity", 3}, {"mass", 2}, {"salinity", 5}, {"temperature", 3}, {"volume", 5}};
  EXPECT_EQ(used, expected);
  EXPECT_EQ(left_out, 20);
}

TEST(Quantity, EachUnitIsReadInOurs) {
  EXPECT_DOUBLE_EQ(read("temperature", "25 C"), 25.0);
  EXPECT_DOUBLE_EQ(read("temperature", "77 °F"), 25.0);
  EXPECT_DOUBLE_EQ(read("temperature", "298.15 K"), 25.0);
  EXPECT_DOUBLE_EQ(read("temperature difference", "1.8 F"), 1.0);
  EXPECT_DOUBLE_EQ(read("temperature difference", "-1 K"), -1.0);
  EXPECT_DOUBLE_EQ(read("conductivity", "53.07 mS/cm"), 53.07);
  EXPECT_DOUBLE_EQ(read("conductivity", "53070 uS/cm"), 53.07);
  EXPECT_DOUBLE_EQ(read("conductivity", "53070 \u00b5S/cm"), 53.07);
  EXPECT_DOUBLE_EQ(read("conductivity", "53070 \u03bcS/cm"), 53.07);
  EXPECT_DOUBLE_EQ(read("conductivity", "5.307 S/m"), 53.07);
  EXPECT_DOUBLE_EQ(read("volume", "200 L"), 200.0);
  EXPECT_DOUBLE_EQ(read("volume", "250 mL"), 0.25);
  EXPECT_DOUBLE_EQ(read("volume", "1.2 m3"), 1200.0);
  EXPECT_DOUBLE_EQ(read("mass", "7.4 kg"), 7400.0);
  EXPECT_DOUBLE_EQ(read("mass", "16 oz"), read("mass", "1 lb"));
  EXPECT_DOUBLE_EQ(read("flow", "600 L/h"), 10.0);
  EXPECT_DOUBLE_EQ(read("flow", "60 US gal/h"), 3.785411784);
  EXPECT_DOUBLE_EQ(read("salinity", "35 PSU"), 35.0);
  EXPECT_DOUBLE_EQ(read("salinity", "35 SP"), 35.0);
  EXPECT_DOUBLE_EQ(read("salinity", "35.16504 ppt"), 35.0);
  EXPECT_DOUBLE_EQ(read("salinity difference", "1.0047154285714286 ppt"), 1.0);
  EXPECT_DOUBLE_EQ(read("salinity difference", "-0.5 PSU"), -0.5);
  EXPECT_DOUBLE_EQ(read("share", "5 %"), 0.05);
  EXPECT_DOUBLE_EQ(read("share", "0.05"), 0.05);
}

TEST(Quantity, DurationsAreWholeNanoseconds) {
  EXPECT_EQ(*parse_duration("250 ms"), 250ms);
  EXPECT_EQ(*parse_duration("5 s"), 5s);
  EXPECT_EQ(*parse_duration("30 min"), 30min);
  EXPECT_EQ(*parse_duration("1.5 h"), 90min);
  EXPECT_EQ(*parse_duration("14 d"), 14 * 24h);
  EXPECT_EQ(*parse_duration("36500 d"), 36500 * 24h);
}

// SP 35 is 1.026374 at 25/25 (TEOS-10 density, the table sg2525 of density_sg.csv).
TEST(Quantity, GravityIsThatAtTwentyFiveOverTwentyFive) {
  EXPECT_NEAR(read("salinity", "1.026374 sg"), 35.0, 1e-3);
  EXPECT_NEAR(read("salinity", "1,026374 SG"), 35.0, 1e-3);
  EXPECT_NEAR(read("salinity", "1,026 sg"), read("salinity", "1.026 sg"), 0.0);
  EXPECT_EQ(read("salinity", "1 sg"), 0.0);
  EXPECT_THAT(refusal("salinity", "0.999 sg"), HasSubstr("less than a salinity can be"));
  EXPECT_THAT(refusal("salinity", "1026 sg"), HasSubstr("more than a salinity can be"));
}

TEST(Quantity, SpacesCapitalsAndTheDecimalCommaAreForgiven) {
  for (const char* text : {"35.5 PSU", "35,5 PSU", "35.5PSU", "  35.5\tpsu ", "+35.5 Psu",
                           "3.55e1 PSU", "35.5\u00a0PSU", "35.5\u202fPSU"})
    EXPECT_DOUBLE_EQ(read("salinity", text), 35.5) << text;
  EXPECT_DOUBLE_EQ(read("volume", ".5 l"), 0.5);
  EXPECT_DOUBLE_EQ(read("volume", "10 us GAL"), read("volume", "10 US gal"));
  EXPECT_DOUBLE_EQ(read("mass", "2 KG"), 2000.0);
  EXPECT_DOUBLE_EQ(read("temperature", "25 c"), 25.0);
}

TEST(Quantity, ABareNumberIsRefusedWithWhatToWrite) {
  EXPECT_EQ(refusal("salinity", "35"),
            R"("35" has no unit: write "35 PSU", "35 ppt" or "1.0264 sg" (25/25))");
  EXPECT_EQ(refusal("temperature", "25"), R"("25" has no unit: write "25 C", "25 F" or "25 K")");
  for (const auto& [quantity, parse] : parsers) {
    if (quantity == "share")
      continue;
    EXPECT_THAT(refusal(quantity, "0"), HasSubstr("has no unit: write \"0 ")) << quantity;
  }
}

TEST(Quantity, CapitalsThatTellUnitsApartAreNotGuessed) {
  for (const char* text : {"53 ms/cm", "53 MS/cm", "53 mS/CM", "53 MS/CM"})
    EXPECT_THAT(refusal("conductivity", text),
                AllOf(HasSubstr("milli"), HasSubstr("mega"), HasSubstr("\"53 mS/cm\"")))
        << text;
  EXPECT_THAT(refusal("conductivity", "5.3 s/m"), HasSubstr("\"5.3 S/m\""));
  EXPECT_THAT(refusal("volume", "5 ML"), HasSubstr("\"5 mL\""));
  EXPECT_THAT(refusal("duration", "5 MS"), HasSubstr("\"5 ms\""));
}

TEST(Quantity, AGallonSaysWhose) {
  EXPECT_THAT(refusal("volume", "50 gal"),
              AllOf(HasSubstr("\"50 US gal\""), HasSubstr("\"50 imp gal\"")));
  EXPECT_THAT(refusal("flow", "50 gal/h"), HasSubstr("\"50 US gal/h\""));
}

TEST(Quantity, ACommaBeforeThreeDigitsIsNotGuessed) {
  EXPECT_THAT(refusal("volume", "1,000 L"),
              AllOf(HasSubstr("\"1.000 L\""), HasSubstr("\"1000 L\"")));
  EXPECT_THAT(refusal("conductivity", "53,070 uS/cm"), HasSubstr("two ways"));
  EXPECT_DOUBLE_EQ(read("volume", "0,025 L"), 0.025);
  EXPECT_DOUBLE_EQ(read("volume", "1,25 L"), 1.25);
  EXPECT_DOUBLE_EQ(read("volume", "1.000,5 L"), 1000.5);  // both signs tell them apart
  EXPECT_DOUBLE_EQ(read("volume", "1,000,000.5 L"), 1000000.5);
  EXPECT_DOUBLE_EQ(read("volume", "1,000,000 L"), 1000000.0);
  for (const char* text : {"1,00,000 L", "1.000,5,5 L", "1,,5 L", "1000,000.5 L", "1.5.5 L"})
    EXPECT_THAT(refusal("volume", text), HasSubstr("holds a number")) << text;
}

TEST(Quantity, WhatIsNoQuantityIsRefusedWithTheAcceptedUnits) {
  EXPECT_THAT(refusal("volume", "200 bananas"),
              AllOf(HasSubstr("\"bananas\" is not a unit of a volume"),
                    HasSubstr("L, mL, m3, US gal or imp gal")));
  EXPECT_THAT(refusal("salinity", "35 ppm"), HasSubstr("PSU, SP, ppt, g/kg"));
  EXPECT_THAT(refusal("duration", "1 h 30 min"), HasSubstr("\"h 30 min\" is not a unit"));
  EXPECT_THAT(refusal("volume", "200 L!"), HasSubstr("\"L!\" is not a unit"));
  EXPECT_THAT(refusal("salinity difference", "0.001 sg"), HasSubstr("not a unit"));
  for (const auto& [quantity, parse] : parsers)
    for (const char* text :
         {"", " ", "L", "-", ".", "e5", "nan L", "inf", "-inf C", "NaN", "0x10", "--5 L", "five L"})
      EXPECT_FALSE(parse(text)) << quantity << " took \"" << text << "\"";
}

TEST(Quantity, NumbersBeyondADoubleAreRefused) {
  for (const auto& [quantity, parse] : parsers)
    for (const char* number : {"1e400", "-1e400", "1e-400"})
      for (const char* unit : {"C", "mS/cm", "L", "kg", "d", "L/min", "PSU", "%"})
        EXPECT_FALSE(parse(fmt::format("{} {}", number, unit))) << quantity;
  EXPECT_THAT(refusal("volume", "1e400 L"), HasSubstr("beyond"));
  EXPECT_THAT(refusal("mass", "1e308 kg"), HasSubstr("beyond"));
  EXPECT_THAT(refusal("volume", "1e30 L"), HasSubstr("more than a volume can be"));
}

TEST(Quantity, WhatCannotBeIsRefused) {
  EXPECT_THAT(refusal("volume", "-1 L"), HasSubstr("less than a volume can be"));
  EXPECT_THAT(refusal("mass", "-1 g"), HasSubstr("less than a mass can be"));
  EXPECT_THAT(refusal("conductivity", "-1 mS/cm"), HasSubstr("less"));
  EXPECT_THAT(refusal("flow", "-1 L/h"), HasSubstr("less"));
  EXPECT_THAT(refusal("duration", "-1 s"), HasSubstr("less"));
  EXPECT_THAT(refusal("duration", "36501 d"), HasSubstr("more than a duration can be"));
  EXPECT_THAT(refusal("salinity", "-1 PSU"), HasSubstr("less"));
  EXPECT_THAT(refusal("salinity", "301 PSU"), HasSubstr("more"));
  EXPECT_THAT(refusal("salinity", "301 g/L"), HasSubstr("more"));
  EXPECT_THAT(refusal("temperature", "-300 C"), HasSubstr("less than a temperature can be"));
  EXPECT_THAT(refusal("temperature", "-1 K"), HasSubstr("less than a temperature can be"));
  EXPECT_THAT(refusal("share", "5"), HasSubstr("write \"5 %\""));
  EXPECT_THAT(refusal("share", "101 %"), HasSubstr("more than a share can be"));
  EXPECT_THAT(refusal("share", "-0.1"), HasSubstr("no share"));
}

// The text may come from the network: whatever it is, the answer is short and printable.
RC_GTEST_PROP(Quantity, AnyTextGetsANumberOrAPrintableSentence, (const std::string& text)) {
  for (const auto& [quantity, parse] : parsers) {
    const auto parsed = parse(text);
    if (parsed) {
      RC_ASSERT(std::isfinite(*parsed));
      continue;
    }
    RC_ASSERT(parsed.error().message.size() < 300U);
    for (const char c : parsed.error().message)
      RC_ASSERT((c >= ' ' && c != 127) || c < 0);
  }
}

TEST(Quantity, TextFromOutsideIsQuotedShortAndPrintable) {
  const std::string message = refusal("volume", "5 \x01\xff" + std::string(5000, 'x'));
  EXPECT_LT(message.size(), 300U);
  EXPECT_THAT(message, HasSubstr("\"5 ??xxx"));
}

TEST(Quantity, WhatIsShownCanBeReadBackWithinItsDigits) {
  for (const double v : {0.05, 3.21, 35.0, 41.9}) {
    EXPECT_NEAR(read("salinity", show(PracticalSalinity(v))), v, 0.006);
    EXPECT_NEAR(read("temperature", show(Celsius(v))), v, 0.051);
    EXPECT_NEAR(read("conductivity", show(MilliSiemensPerCm(v))), v, 0.006);
    EXPECT_NEAR(read("volume", show(Litres(v))), v, 0.051);
  }
}

TEST(Quantity, IsShownWithItsUnitAndSensibleDigits) {
  EXPECT_EQ(show(Celsius(24.96)), "25.0 °C");
  EXPECT_EQ(show(Celsius(0.3)), "0.30 °C");
  EXPECT_EQ(show(Celsius(-0.001)), "0.00 °C");
  EXPECT_EQ(show(PracticalSalinity(34.8357)), "35.00 ppt");
  EXPECT_EQ(show(PracticalSalinity(0.05)), "0.050 ppt");
  EXPECT_EQ(show(MilliSiemensPerCm(53.0712)), "53.07 mS/cm");
  EXPECT_EQ(show(MilliSiemensPerCm(0.0042)), "0.004 mS/cm");
  EXPECT_EQ(show(Litres(200.0)), "200.0 L");
  EXPECT_EQ(show(Litres(5.8737)), "5.87 L");
  EXPECT_EQ(show(Grams(11.89)), "11.9 g");
  EXPECT_EQ(show(Grams(237.4)), "237 g");
  EXPECT_EQ(show(Grams(999.7)), "1.000 kg");
  EXPECT_EQ(show(Grams(7400.0)), "7.400 kg");
  EXPECT_EQ(show(Grams(17919.2)), "17.92 kg");
}

TEST(Quantity, DurationsAreShownInTheUnitPeopleThinkIn) {
  EXPECT_EQ(show(Duration(0)), "0 s");
  EXPECT_EQ(show(250ms), "250 ms");
  EXPECT_EQ(show(1500ms), "1.5 s");
  EXPECT_EQ(show(12s), "12 s");
  EXPECT_EQ(show(90s), "90 s");
  EXPECT_EQ(show(22min + 10s), "22 min");
  EXPECT_EQ(show(210min), "3.5 h");
  EXPECT_EQ(show(14 * 24h), "14 d");
  EXPECT_EQ(show(-5s), "-5 s");
}

}  // namespace
}  // namespace brinegate::config
